#include "calc/track_playback.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "calc/head_losses.h"
#include "calc/spread_text.h"
#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::Figure;
using quantity::InputError;
using table::Fact;

void require(bool holds, const char* rule) {
    if (!holds) throw quantity::DomainError(rule);
}

/// How much of a strip lies under a head whose middle is at 0.
double covered_um(double middle_um, double strip_um, double head_um) {
    const double from = std::max(-head_um / 2, middle_um - strip_um / 2);
    return std::max(0.0, std::min(head_um / 2, middle_um + strip_um / 2) - from);
}

constexpr const char* given_origin = "given";

/// Below, a strip is rounding: widths are known to a tenth of a micrometre at best.
constexpr double thinnest_strip_um = 1e-6;

double widest_at_angle_um(double angle_deg, double wavelength_um) {
    if (angle_deg == 0) return std::numeric_limits<double>::infinity();
    return wavelength_um / (std::numbers::pi * std::tan(angle_deg * std::numbers::pi / 180));
}

Width stated(const Fact& fact) { return {input_of(fact, "µm"), &fact, {}}; }

/// What one run of the geometry takes, in the order in which it is varied.
struct Widths {
    Input pitch, track, other, head;
    bool track_is_pitch, head_is_pitch, alternates;

    std::vector<Input> inputs() const { return {pitch, track, other, head}; }
    TrackLayout layout(std::span<const double> x) const {
        return {x[0], track_is_pitch ? x[0] : x[1], x[2], head_is_pitch ? x[0] : x[3], alternates};
    }
};

/// A figure, or why there is none, of a result that may be infinite.
Figure level(const std::function<double(std::span<const double>)>& formula, const std::vector<Input>& inputs,
             const char* reason) {
    const Spread spread = level_spread_of(formula, inputs);
    if (!std::isfinite(spread.value)) return Figure::unknown(reason);
    return figure_of(spread, "dB");
}

/// Angles between the head's gap and the lines of its own kind of track and the other kind.
struct Angles {
    std::optional<Input> own_deg, other_deg;
    std::string missing;
    const Fact *tape = nullptr, *machine = nullptr;
};

/// An angle of nought is no rounded figure: the gaps stand square to the tracks.
Input azimuth_of(const Fact& azimuth) {
    const Input angle = input_of(azimuth, "deg");
    return angle.value == 0 ? Input{} : angle;
}

Angles angles_of(const PlaybackQuery& query) {
    const Fact* recorded = query.format->fact_in(*query.mode, "azimuth");
    const Fact* machine =
        query.machine_format == nullptr ? recorded : query.machine_format->fact_in(*query.machine_mode, "azimuth");
    if (recorded == nullptr || machine == nullptr)
        return {{}, {}, "the table does not give: azimuth", recorded, machine};
    const Input tape = azimuth_of(*recorded), head = azimuth_of(*machine);
    const bool same = tape.value == head.value;
    return {Input{std::abs(head.value - tape.value), same ? 0 : head.half_width + tape.half_width},
            Input{head.value + tape.value, head.half_width + tape.half_width},
            {},
            recorded,
            machine};
}

Figure angle_figure(const std::optional<Input>& angle, const std::string& missing) {
    return angle ? Figure::measured(angle->value, angle->half_width / std::sqrt(3.0), "deg") : Figure::unknown(missing);
}

PickUp pick_up(const Carrier& carrier, const Widths& widths, const Angles& angles) {
    if (!carrier.wavelength.spread) {
        const Figure none = Figure::unknown("the table does not give: " + carrier.wavelength.missing);
        return {carrier, none, none, none, none};
    }
    if (!angles.own_deg) {
        const Figure none = Figure::unknown(angles.missing);
        return {carrier, none, none, none, none};
    }
    const Spread& wave = *carrier.wavelength.spread;
    std::vector<Input> inputs = widths.inputs();
    inputs.push_back({wave.value, wave.standard_uncertainty * std::sqrt(3.0)});
    inputs.push_back(*angles.own_deg);
    inputs.push_back(*angles.other_deg);
    const auto own_loss = [&](std::span<const double> x) {
        return azimuth_loss_db(under_head(widths.layout(x)).own_um, std::abs(x[5]), x[4]);
    };
    const auto read_um = [&](std::span<const double> x) {
        return under_head(widths.layout(x)).own_um * std::pow(10, -own_loss(x) / 20);
    };
    const auto taken_off = [&](std::span<const double> x) {
        const UnderHead under = under_head(widths.layout(x));
        return under.other_azimuth_um.empty() ? std::nan("")
                                              : least_azimuth_loss_db(under.other_azimuth_um[0], x[6], x[4]);
    };
    const auto from_others = [&](std::span<const double> x) {
        return most_pick_up_db(under_head(widths.layout(x)).other_azimuth_um, read_um(x), x[6], x[4]);
    };
    const auto from_same = [&](std::span<const double> x) {
        return most_pick_up_db(under_head(widths.layout(x)).same_azimuth_um, read_um(x), std::abs(x[5]), x[4]);
    };
    return {carrier, level(own_loss, inputs, "a null of the azimuth loss on the own track"),
            level(taken_off, inputs, "the head does not reach the next track"),
            level(from_others, inputs, "the head does not reach the next track"),
            level(from_same, inputs, "the head does not reach the next track of its own azimuth")};
}

Figure width_figure(const Widths& widths, double (*of)(const UnderHead&), double per, const char* unit) {
    const auto at = [&](std::span<const double> x) { return of(under_head(widths.layout(x))) / per; };
    return figure_of(spread_of(at, widths.inputs()), unit);
}

double nearest_strip(const UnderHead& under) {
    if (!under.other_azimuth_um.empty()) return under.other_azimuth_um[0];
    return under.same_azimuth_um.empty() ? 0 : under.same_azimuth_um[0];
}

void add_widths(Playback& answer, const Widths& widths) {
    const auto own = [](const UnderHead& under) { return under.own_um; };
    answer.own_um = width_figure(widths, own, 1, "µm");
    answer.neighbour_um = width_figure(widths, nearest_strip, 1, "µm");
    const auto share = [&](bool of_track) {
        return figure_of(spread_of(
                             [&, of_track](std::span<const double> x) {
                                 const TrackLayout layout = widths.layout(x);
                                 return under_head(layout).own_um / (of_track ? layout.track_um : layout.head_um);
                             },
                             widths.inputs()),
                         "share");
    };
    answer.own_share = share(true);
    answer.head_share = share(false);
}

void expect_tape_fits(const PlaybackQuery& query, const std::string& input) {
    const Fact *tape = query.format->tape.known("width"), *machine = query.machine_format->tape.known("width");
    if (tape == nullptr || machine == nullptr) return;
    const double wide = tape->in("mm"), guided = machine->in("mm");
    const double apart = std::abs(wide - guided);
    if (apart > 0.005 * wide)  // widths of one tape, such as 12.65 and 12.7 mm, stand in either digits
        throw InputError(input,
                         fmt::format("a machine for tape of {} can't take one of {}", quantity_text(guided, 0, "mm"),
                                     quantity_text(wide, 0, "mm")),
                         "name a mode on tape of the same width, or give --head-width");
}

bool is_said_to_play(const table::Table& table, const table::TapeFormat& machine, const table::TapeFormat& tape) {
    return table.is_or_is_based_on(tape, machine) || table.is_or_is_based_on(machine, tape) ||
           std::ranges::find(machine.plays, tape.id) != machine.plays.end();
}

Width head_of(const table::Table& table, const PlaybackQuery& query, const Width& own_track, const std::string& input) {
    if (query.head_um) return {*query.head_um, nullptr, given_origin};
    if (query.machine_mode == nullptr) return own_track;
    const auto width = track_width_of(table, *query.machine_format, *query.machine_mode);
    if (!width)
        throw InputError(input,
                         "the table gives neither track width nor pitch of " +
                             address_of(*query.machine_format, *query.machine_mode),
                         "give --head-width");
    return *width;
}

void add_remarks(Playback& answer, const table::Table& table, const PlaybackQuery& query) {
    if (query.machine_format != nullptr && !is_said_to_play(table, *query.machine_format, *query.format))
        answer.remarks.push_back("The table does not say that machines for " + query.machine_format->name + " play " +
                                 query.format->name + "; this is what the geometry alone gives.");
    if (answer.other_track)
        answer.remarks.push_back("The colour tracks are taken to lie midway between those of the luminance.");
    if (answer.head.fact == nullptr || answer.head.fact->key != "track_width") {
        if (answer.head.origin != given_origin)
            answer.remarks.push_back(
                "The head is taken as wide as the track that it writes; real ones differ by some "
                "micrometres, and a machine of two speeds may have a head for each.");
    }
}

void add_cross_overs(Playback& answer, const table::Table& table, const PlaybackQuery& query) {
    const Machine recorder{&table, query.format, query.mode}, player{&table, query.machine_format, query.machine_mode};
    answer.at_machine_speed = cross_over(recorder, player, TapeSpeed::OfThePlayer);
    answer.at_tape_speed = cross_over(recorder, player, TapeSpeed::OfTheRecording);
}

/// Pitch, or the reason why the geometry can't be worked out.
Width needed_pitch(const table::Table& table, const PlaybackQuery& query, const std::string& input) {
    const auto pitch = pitch_of(table, *query.format, *query.mode);
    if (!pitch)
        throw InputError(input, "the table gives no track pitch of " + address_of(*query.format, *query.mode),
                         "`guardband formats " + query.format->id + "` says what is known");
    return *pitch;
}

}  // namespace

std::optional<Width> pitch_of(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode) {
    const Worked worked = track_pitch(track_facts(table, format, mode));
    if (worked.spread)
        return Width{
            {worked.spread->value, worked.spread->standard_uncertainty * std::sqrt(3.0)}, nullptr, "worked out"};
    const Fact* printed = format.fact_in(mode, "track_pitch");
    if (printed == nullptr) return std::nullopt;
    return stated(*printed);
}

std::optional<Width> track_width_of(const table::Table& table, const table::TapeFormat& format,
                                    const table::Mode& mode) {
    if (const Fact* width = format.fact_in(mode, "track_width")) return stated(*width);
    return pitch_of(table, format, mode);
}

std::string width_text(const Width& width) {
    const bool worked_out = width.fact == nullptr && width.origin != given_origin;
    return worked_out ? quantity_text(width.um.value, width.um.half_width / std::sqrt(3.0), "µm")
                      : quantity_text(width.um, "µm");
}

UnderHead under_head(const TrackLayout& layout) {
    require(layout.pitch_um > 0 && layout.track_um > 0 && layout.head_um > 0 && layout.other_um >= 0,
            "pitch, track and head must be wider than 0");
    UnderHead under{covered_um(0, layout.track_um, layout.head_um), {}, {}};
    const auto add = [&](std::vector<double>& strips, double middle_um, double width_um) {
        const double strip = covered_um(middle_um, width_um, layout.head_um);
        if (strip > thinnest_strip_um) strips.push_back(strip);
    };
    for (int k = 1; (k - 1) * layout.pitch_um < layout.head_um; ++k) {
        if (layout.other_um > 0) add(under.other_azimuth_um, (k - 0.5) * layout.pitch_um, layout.other_um);
        const bool other = layout.other_um == 0 && layout.alternates && k % 2 == 1;
        add(other ? under.other_azimuth_um : under.same_azimuth_um, k * layout.pitch_um, layout.track_um);
    }
    return under;
}

double most_pick_up_db(std::span<const double> strips_um, double own_um, double angle_deg, double wavelength_um) {
    require(own_um >= 0 && wavelength_um > 0 && 0 <= angle_deg && angle_deg < 90,
            "widths, wavelength and angle must not be negative");
    const double widest = widest_at_angle_um(angle_deg, wavelength_um);
    double power = 0;
    for (const double strip : strips_um) power += 2 * std::pow(std::min(strip, widest), 2);
    return 10 * std::log10(power) - 20 * std::log10(own_um);
}

Playback playback(const table::Table& table, const PlaybackQuery& query, const std::string& input) {
    if (query.machine_format != nullptr) expect_tape_fits(query, input);
    Playback answer;
    answer.machine_format = query.machine_format, answer.machine_mode = query.machine_mode;
    answer.pitch = needed_pitch(table, query, input);
    answer.track = *track_width_of(table, *query.format, *query.mode);
    answer.head = head_of(table, query, answer.track, input);
    if (const Fact* other = query.format->fact_in(*query.mode, "colour_track_width"))
        answer.other_track = stated(*other);
    const Angles angles = angles_of(query);
    const bool track_is_pitch = query.format->fact_in(*query.mode, "track_width") == nullptr;
    if (track_is_pitch) answer.track = answer.pitch;
    const bool head_is_pitch = track_is_pitch && !query.head_um && query.machine_mode == nullptr;
    const Widths widths{answer.pitch.um,
                        answer.track.um,
                        answer.other_track ? answer.other_track->um : Input{},
                        head_is_pitch ? answer.pitch.um : answer.head.um,
                        track_is_pitch,
                        head_is_pitch,
                        angles.other_deg && angles.other_deg->value > 0};
    if (head_is_pitch) answer.head = answer.pitch;
    add_widths(answer, widths);
    answer.tape_azimuth = angles.tape, answer.machine_azimuth = angles.machine;
    answer.own_azimuth_deg = angle_figure(angles.own_deg, angles.missing);
    answer.other_azimuth_deg = angle_figure(angles.other_deg, angles.missing);
    for (const Carrier& carrier : carriers_of(table, *query.format, *query.mode))
        if (!carrier.is_sound) answer.pick_ups.push_back(pick_up(carrier, widths, angles));
    if (query.machine_mode != nullptr) add_cross_overs(answer, table, query);
    add_remarks(answer, table, query);
    return answer;
}

}  // namespace guardband::calc
