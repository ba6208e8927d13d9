#include "report/track_report.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "calc/head_losses.h"
#include "calc/spread_text.h"
#include "report/closure_report.h"
#include "report/figure_page.h"
#include "report/json.h"
#include "report/labelled_text.h"
#include "report/text_table.h"
#include "report/track_json.h"
#include "report/working_report.h"

namespace guardband::report {
namespace {

using calc::number_text;
using calc::plain_text;
using calc::quantity_text;
using quantity::Figure;

constexpr std::string_view indent = "  ";

std::string labelled(const std::string& label, const std::string& text) {
    constexpr std::size_t label_width = 28;
    return report::labelled(label, text, label_width);
}

std::string unknown_or(const Figure& figure, const std::string& after = "") {
    return figure.is_known() ? quantity_text(figure) + after : "not known: " + figure.reason();
}

std::string geometry_text(const calc::TrackGeometry& tracks) {
    std::string text = labelled("track pitch", unknown_or(tracks.pitch_um));
    text += labelled("angle to the edge", unknown_or(tracks.angle_moving_deg, ", tape moving"));
    text += labelled("", unknown_or(tracks.angle_still_deg, ", tape still"));
    text += labelled("length of a track", unknown_or(tracks.length_mm));
    text += labelled("across the tape", unknown_or(tracks.height_mm));
    text += labelled("writing speed", unknown_or(tracks.writing_speed_m_s));
    text += labelled("speed of the heads' tips", unknown_or(tracks.tip_speed_m_s));
    text += labelled("tracks a second", unknown_or(tracks.tracks_per_s));
    text += labelled("tracks along the edge",
                     unknown_or(tracks.tracks_per_mm, " per mm (can be counted on developed tape)"));
    if (!tracks.writing_speed_m_s.note().empty()) text += indented("Assumed: " + tracks.writing_speed_m_s.note() + ".");
    return text;
}

std::string carriers_text(const std::vector<calc::Carrier>& carriers) {
    if (carriers.empty()) return "\n" + indented("The table gives no carriers of this mode, so no wavelengths.");
    using enum TextTable::Align;
    TextTable rows({{"carrier", Left}, {"MHz", Right}, {"wavelength", Left}});
    for (const calc::Carrier& carrier : carriers)
        rows.add({carrier.name, plain_text(carrier.frequency_mhz()), unknown_or(carrier.wavelength.figure("µm"))});
    return "\n" + rows.to_string(indent);
}

std::string bare(const std::optional<double>& value) { return value ? number_text(*value) : "–"; }

std::string checks_text(const std::vector<calc::Closure>& checks) {
    if (checks.empty()) return "";
    using enum TextTable::Align;
    TextTable rows({{"check", Left}, {"worked out", Right}, {"printed", Right}, {"", Left}, {"", Left}});
    for (const calc::Closure& check : checks) {
        rows.add({std::string(to_string(check.kind)), bare(check.derived), bare(check.printed), check.unit,
                  std::string(to_string(check.outcome))});
        if (check.outcome != calc::Outcome::Holds && !check.reason.empty())
            rows.add_line("  " + wrapped(check.reason, page_width, indent.size() + 2));
    }
    return "\n" + rows.to_string(indent);
}

std::string percent(const Figure& share) {
    return number_text(100 * share.number().value(), 100 * share.uncertainty().value_or(0)) + " %";
}

std::string head_text(const calc::Playback& p) {
    std::string who = "Played by ";
    who += p.machine_mode == nullptr ? std::string("a head")
                                     : "a machine for " + address_of(*p.machine_format, *p.machine_mode) + ", its head";
    who += " " + width_text(p.head) + " wide, the tracks " + width_text(p.pitch) + " apart";
    std::string text = "\n" + wrapped(who, page_width) + "\n";
    text += labelled("reads of its own track", quantity_text(p.own_um) + ", " + percent(p.own_share));
    text += labelled("which is of its own width", percent(p.head_share));
    text += labelled("reads of each neighbour", quantity_text(p.neighbour_um));
    if (p.other_azimuth_deg.is_known())
        text += labelled("gap to neighbour's lines", quantity_text(p.other_azimuth_deg));
    return text;
}

std::string level_of(const Figure& figure) {
    return figure.is_known() ? calc::level_text(*figure.number(), figure.uncertainty().value_or(0)) : "–";
}

bool has(const calc::Playback& p, Figure calc::PickUp::*level) {
    return std::ranges::any_of(p.pick_ups, [&](const calc::PickUp& at) { return (at.*level).is_known(); });
}

/// Columns that say something of this head; angles that are nought and tracks that are not reached are left out.
std::string pick_up_text(const calc::Playback& p) {
    using enum TextTable::Align;
    const bool others = has(p, &calc::PickUp::pick_up_db), same = has(p, &calc::PickUp::same_azimuth_db);
    const bool turned = p.own_azimuth_deg.number().value_or(0) > 0;
    if (p.pick_ups.empty()) return "";
    if (!others && !same && !turned) return indented("Pick-up: none; " + p.pick_ups[0].pick_up_db.reason() + ".");
    std::vector<TextTable::Column> columns{{"carrier", Left}};
    if (turned) columns.push_back({"own track", Left});
    if (others) columns.push_back({"azimuth", Left}), columns.push_back({"neighbours", Left});
    if (same) columns.push_back({"same azimuth", Left});
    TextTable rows(columns);
    for (const calc::PickUp& at : p.pick_ups) {
        std::vector<std::string> cells{at.carrier.name};
        if (turned) cells.push_back(level_of(at.own_loss_db));
        if (others) cells.push_back(level_of(at.azimuth_loss_db)), cells.push_back(level_of(at.pick_up_db));
        if (same) cells.push_back(level_of(at.same_azimuth_db));
        rows.add(std::move(cells));
    }
    std::string text = "\n" + rows.to_string(indent);
    if (others)
        text += indented(
            "Azimuth: dB that it takes off a neighbour, at the least. Neighbours: what both add, at the most, in dB "
            "against the own track.");
    if (same)
        text += indented(
            "Same azimuth: what the nearest tracks add that no azimuth keeps out, being written by the same head or "
            "one like it; dB against the own track.");
    if (turned) text += indented("Own track: dB that it loses by the machine's other azimuth.");
    return text;
}

std::string colour_text(const calc::Playback& p) {
    const auto colour = std::ranges::find_if(p.pick_ups, [](const auto& at) { return at.carrier.is_colour_under; });
    if (colour == p.pick_ups.end() || !colour->azimuth_loss_db.is_known() ||
        p.other_azimuth_deg.number().value_or(0) == 0)
        return "";
    return indented(
        fmt::format("At the colour-under carrier waves are {} long, so that azimuth does little: at least "
                    "{} dB. What keeps the neighbours' colour out is how it is recorded (phase turned or "
                    "reversed from line to line) and a comb filter.",
                    quantity_text(colour->carrier.wavelength.spread->value, 0, "µm"),
                    calc::level_text(*colour->azimuth_loss_db.number())));
}

std::string cross_over_text(const calc::CrossOver& cross, const std::string& at) {
    if (!cross.tracks_per_field.is_known()) return labelled(at, "not known: " + cross.tracks_per_field.reason());
    std::string text = cross.tracks_per_field.number() == 0.0
                           ? "crosses none"
                           : "crosses " + quantity_text(cross.tracks_per_field) + " tracks a field";
    if (cross.tracks_per_field.number() != cross.tracks_per_sweep.number())
        text += ", " + quantity_text(cross.tracks_per_sweep) + " a sweep";
    if (!cross.assumption.empty()) text += " (" + cross.assumption + ")";
    if (cross.angle_deg.number().value_or(0) > 0) text += "; " + quantity_text(cross.angle_deg) + " off the tracks";
    return labelled(at, text);
}

std::string playback_text(const calc::Playback& p) {
    std::string text = head_text(p) + pick_up_text(p) + colour_text(p);
    if (p.at_tape_speed)
        text += "\n" + cross_over_text(*p.at_tape_speed, "at the recording's speed") +
                cross_over_text(*p.at_machine_speed, "at the machine's own speed");
    for (const std::string& remark : p.remarks) text += indented(remark);
    return text;
}

std::string bars_text(const calc::Shuttle& shuttle) {
    if (!shuttle.bars_per_field.is_known()) return "not known: " + shuttle.bars_per_field.reason();
    const double shift = shuttle.shift_per_sweep.number().value_or(0);
    std::string text = number_text(*shuttle.bars_per_field.number());
    if (*shuttle.bars_per_field.number() == 0) return text;
    if (shift < 1e-9) return text + ", standing still";
    if (shift > 0.5 - 1e-9) return text + ", each field's half way between those of the field before";
    return text + fmt::format(", moving by {} of their distance from sweep to sweep", number_text(shift));
}

std::string shuttle_text(const calc::Shuttle& shuttle) {
    const double times = shuttle.times_play;
    std::string text = "\nShuttled at " + plain_text(std::abs(times)) + " times play" +
                       (times < 0    ? ", backwards"
                        : times == 0 ? ": a still picture"
                                     : ", forwards") +
                       (shuttle.tape_speed_mm_s.is_known() ? ": " + quantity_text(shuttle.tape_speed_mm_s) : "") + "\n";
    text += labelled("tracks crossed in a sweep", number_text(shuttle.tracks_per_sweep));
    text += labelled("noise bars in a field", bars_text(shuttle));
    if (shuttle.line_rate_ratio.is_known())
        text += labelled("line rate over play's",
                         fmt::format("{:.4f}, if the drum keeps its speed", *shuttle.line_rate_ratio.number()));
    if (shuttle.is_digital) text += indented("Digital: what a bar hides shows as held or broken blocks.");
    if (shuttle.azimuths_alternate)
        text += indented(*shuttle.azimuths_alternate
                             ? "Heads of two azimuths read every second track that they cross: |X − 1| / 2 bars a "
                               "track's time, still at odd X. Heads that are steered along the tracks leave none."
                             : "All tracks alike: |X − 1| bars a track's time, one at each change of track, still at "
                               "whole X. Heads that are steered along the tracks leave none.");
    return text;
}

std::string with_null(const std::optional<Figure>& loss) {
    if (!loss) return "";
    return loss->is_known() ? level_of(*loss) : "null";
}

std::string given_text(const calc::LossQuery& query) {
    std::string text;
    const auto add = [&](const std::optional<calc::Input>& input, const char* what, const char* unit) {
        if (input) text += (text.empty() ? "" : ", ") + std::string(what) + " " + quantity_text(*input, unit);
    };
    add(query.spacing_um, "spacing", "µm");
    add(query.gap_um, "gap", "µm");
    add(query.thickness_um, "thickness", "µm");
    add(query.error_angle_deg, "error angle", "deg");
    if (query.error_angle_deg) add(query.width_um, "width read", "µm");
    return text;
}

std::string losses_text(const std::vector<calc::CarrierLosses>& losses, const calc::LossQuery& query) {
    using enum TextTable::Align;
    std::string text = "\nLosses, dB: " + wrapped(given_text(query), page_width, 12) + "\n";
    if (losses.empty()) return text + indented("The table gives no carriers of this mode.");
    std::vector<TextTable::Column> columns{{"carrier", Left}};
    const std::vector<std::pair<std::string, std::optional<Figure> calc::CarrierLosses::*>> kinds{
        {"spacing", &calc::CarrierLosses::spacing_db},
        {"gap", &calc::CarrierLosses::gap_db},
        {"thickness", &calc::CarrierLosses::thickness_db},
        {"azimuth", &calc::CarrierLosses::azimuth_db}};
    for (const auto& [name, loss] : kinds)
        if (losses[0].*loss) columns.push_back({name, Left});
    columns.push_back({"all", Left});
    TextTable rows(columns);
    for (const calc::CarrierLosses& at : losses) {
        std::vector<std::string> cells{at.carrier.name};
        for (const auto& [name, loss] : kinds)
            if (losses[0].*loss) cells.push_back(with_null(at.*loss));
        cells.push_back(with_null(at.total_db));
        rows.add(std::move(cells));
    }
    text += rows.to_string(indent);
    if (query.gap_um)
        text +=
            indented(fmt::format("The gap that counts is the effective one, some {:.0f} to {:.0f} % longer than the "
                                 "one that is ground (from memory): give that.",
                                 100 * (calc::effective_gap_low - 1), 100 * (calc::effective_gap_high - 1)));
    if (query.thickness_um)
        text += indented("The thickness that counts is what is recorded: at short waves less than the coating.");
    if (std::ranges::any_of(losses, [](const auto& at) { return at.carrier.is_sound; }))
        text += indented("FM sound is read by heads of its own, whose gap may differ.");
    return text;
}

}  // namespace

std::string track_text(const TrackAnswer& answer, const table::Table& table) {
    const bool more = answer.playback || answer.shuttle || answer.losses;  // what was asked, instead of all there is
    const std::string title = address_of(*answer.format, *answer.mode) + ": " + answer.format->name;
    std::string text = wrapped(title + (more ? "" : ", its tracks"), page_width) + (more ? "\n" : "\n\n");
    if (!more) text += geometry_text(answer.tracks) + carriers_text(answer.carriers) + checks_text(answer.checks);
    if (answer.playback) text += playback_text(*answer.playback);
    if (answer.shuttle) text += shuttle_text(*answer.shuttle);
    if (answer.losses) text += losses_text(*answer.losses, answer.loss_query);
    text += "\n" +
            wrapped("± is one standard uncertainty, from the tolerances and the rounding of the figures used.",
                    page_width) +
            "\n";
    return text + cautions_text(table, answer.cautions) + working_text(answer.working, table) + "\n" +
           wrapped(edition_text(table.edition) + ".", page_width) + "\n";
}

}  // namespace guardband::report
