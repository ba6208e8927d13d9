#include "calc/track_cross_over.h"

#include <array>
#include <cmath>
#include <numbers>

#include "calc/track_geometry.h"
#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::Figure;

constexpr double radian_deg = 180 / std::numbers::pi;

void require(bool holds, const char* rule) {
    if (!holds) throw quantity::DomainError(rule);
}

/// How the head goes over the tape, m/s: along the edge and across it.
struct Velocity {
    double along, across;
};

Velocity velocity_of(const Sweep& sweep) {
    require(sweep.tip_speed_m_s > 0 && sweep.tracks_per_s > 0, "heads and rate of tracks must be above 0");
    require(0 < sweep.angle_still_deg && sweep.angle_still_deg < 180, "a drum along the edge writes no tracks");
    const double phi = sweep.angle_still_deg / radian_deg;
    const double tape = (sweep.motion == HeadMotion::WithTape ? -1 : 1) * sweep.tape_speed_mm_s / 1e3;
    return {sweep.tip_speed_m_s * std::cos(phi) + tape, sweep.tip_speed_m_s * std::sin(phi)};
}

Input input_of(const Figure& figure) {
    return {figure.number().value(), figure.uncertainty().value_or(0) * std::sqrt(3.0)};
}

/// A mode's figures as far as they are known.
struct Known {
    TrackFacts facts;
    TrackGeometry tracks;
    std::string missing;

    explicit Known(const Machine& machine)
        : facts(track_facts(*machine.table, *machine.format, *machine.mode)),
          tracks(track_geometry(*machine.table, *machine.format, *machine.mode)) {
        if (facts.tape_speed == nullptr) missing = "tape speed";
        if (!facts.tracks_per_s) missing += std::string(missing.empty() ? "" : ", ") + "rate of tracks";
    }
    bool has_path() const {
        return facts.motion && tracks.tip_speed_m_s.is_known() && tracks.angle_still_deg.is_known();
    }
    double rate_hz() const { return facts.tracks_per_s->value(); }
};

/// The order in which the inputs of a spread stand.
enum Index : std::uint8_t {
    SpeedOfRecorder,
    SpeedOfPlayer,
    TipOfRecorder,
    TipOfPlayer,
    AngleOfRecorder,
    AngleOfPlayer
};

/// Two machines with numbers put in; what both have in common is varied in common.
struct Pair {
    const Known& recorder;
    const Known& player;
    bool one_drum = false, one_angle = false, one_speed = false;

    Sweep recorder_at(std::span<const double> x) const {
        return {x[TipOfRecorder], x[AngleOfRecorder], x[SpeedOfRecorder], recorder.rate_hz(),
                recorder.facts.motion.value()};
    }
    Sweep player_at(std::span<const double> x) const {
        return {one_drum ? x[TipOfRecorder] : x[TipOfPlayer], one_angle ? x[AngleOfRecorder] : x[AngleOfPlayer],
                one_speed ? x[SpeedOfRecorder] : x[SpeedOfPlayer], player.rate_hz(), player.facts.motion.value()};
    }
    std::vector<Input> inputs() const {
        return {calc::input_of(*recorder.facts.tape_speed, "mm/s"),
                calc::input_of(*player.facts.tape_speed, "mm/s"),
                input_of(recorder.tracks.tip_speed_m_s),
                input_of(player.tracks.tip_speed_m_s),
                input_of(recorder.tracks.angle_still_deg),
                input_of(player.tracks.angle_still_deg)};
    }
};

CrossOver unknown(const std::string& reason) {
    const Figure none = Figure::unknown(reason);
    return {none, none, none, none, none, {}, false, {}, {}};
}

/// Fields a second of the player over its tracks a second.
double tracks_per_field(const Machine& player, const Known& known) {
    return (*known.facts.tracks_per_s / player.table->scanning(player.mode->system, "system").field_rate()).value();
}

/// One drum at two speeds: nothing else matters.
CrossOver of_one_drum(const Known& recorder, const Known& player, double per_field, bool one_speed) {
    const auto crossed = [&](std::span<const double> x) {
        return std::abs((one_speed ? 1 : x[1] / x[0]) - 1) * recorder.rate_hz() / player.rate_hz();
    };
    const std::vector<Input> speeds{calc::input_of(*recorder.facts.tape_speed, "mm/s"),
                                    calc::input_of(*player.facts.tape_speed, "mm/s")};
    CrossOver result = unknown("the table does not give the drum’s speed, angle and way of turning");
    result.tracks_per_sweep = figure_of(spread_of(crossed, speeds), "");
    result.tracks_per_field =
        figure_of(spread_of([&](std::span<const double> x) { return per_field * crossed(x); }, speeds), "");
    return result;
}

void add_path(CrossOver& result, const Pair& pair) {
    const auto angle = [&](std::span<const double> x) {
        return std::abs(path_to_track_deg(pair.recorder_at(x), pair.player_at(x)));
    };
    const std::vector<Input> inputs = pair.inputs();
    std::vector<double> values;
    for (const Input& input : inputs) values.push_back(input.value);
    result.recorder = pair.recorder_at(values);
    result.player = pair.player_at(values);
    result.angle_deg = figure_of(spread_of(angle, inputs), "deg");
}

CrossOver of_two_drums(const Pair& pair, double per_field) {
    const auto crossed = [&](std::span<const double> x) {
        return std::abs(tracks_crossed(pair.recorder_at(x), pair.player_at(x)));
    };
    CrossOver result = unknown("");
    result.tracks_per_sweep = figure_of(spread_of(crossed, pair.inputs()), "");
    result.tracks_per_field =
        figure_of(spread_of([&](std::span<const double> x) { return per_field * crossed(x); }, pair.inputs()), "");
    return result;
}

}  // namespace

double tracks_crossed(const Sweep& recorder, const Sweep& player) {
    require(recorder.tape_speed_mm_s > 0, "a recording needs a tape that runs");
    const Velocity track = velocity_of(recorder), path = velocity_of(player);
    const double sweep_s = 1 / player.tracks_per_s;
    const double apart_m = sweep_s * (path.along - path.across * track.along / track.across);
    const double tracks_per_m = recorder.tracks_per_s / (recorder.tape_speed_mm_s / 1e3);
    return (recorder.motion == HeadMotion::WithTape ? -1 : 1) * apart_m * tracks_per_m;
}

double path_to_track_deg(const Sweep& recorder, const Sweep& player) {
    const Velocity track = velocity_of(recorder), path = velocity_of(player);
    return radian_deg * (std::atan2(path.across, path.along) - std::atan2(track.across, track.along));
}

CrossOver cross_over(const Machine& recorder, const Machine& player, TapeSpeed speed) {
    const Known tape(recorder), machine(player);
    const std::string missing = tape.missing.empty() ? machine.missing : tape.missing;
    if (!missing.empty()) return unknown("the table does not give: " + missing);
    if (tape.facts.heads_stand_still || machine.facts.heads_stand_still)
        return unknown("heads that stand still do not sweep");
    const double per_field = tracks_per_field(player, machine);
    const bool one_format = recorder.format == player.format;
    const bool one_drum = one_format && recorder.mode->system == player.mode->system;
    const bool one_speed = speed == TapeSpeed::OfTheRecording;
    const bool has_paths = tape.has_path() && machine.has_path();
    if (!one_drum && !has_paths) return unknown("the table does not give the drums’ speed, angle and way of turning");
    const bool one_angle =
        one_drum || (one_format && (tape.facts.angle_still == nullptr || machine.facts.angle_still == nullptr));
    const Pair pair{tape, machine, one_drum, one_angle, one_speed};
    CrossOver result = one_drum ? of_one_drum(tape, machine, per_field, one_speed) : of_two_drums(pair, per_field);
    if (has_paths) add_path(result, pair);
    const Spread played =
        spread_of([](std::span<const double> x) { return x[0]; },
                  {calc::input_of(one_speed ? *tape.facts.tape_speed : *machine.facts.tape_speed, "mm/s")});
    result.tape_speed_mm_s = figure_of(played, "mm/s");
    result.recorded_mm_s = figure_of(
        spread_of([](std::span<const double> x) { return x[0]; }, {calc::input_of(*tape.facts.tape_speed, "mm/s")}),
        "mm/s");
    result.one_drum = one_drum;
    if (one_angle && !one_drum) result.assumption = "both drums stand at the same angle";
    return result;
}

}  // namespace guardband::calc
