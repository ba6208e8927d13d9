#include "report/pack_report.h"

#include <fmt/format.h>

#include <cmath>

#include "calc/number_text.h"
#include "report/figure_page.h"
#include "report/json.h"
#include "report/text_table.h"
#include "report/working_report.h"

namespace guardband::report {
namespace {

using calc::PackAnswer;
using calc::PackQuery;
using calc::PackSize;
using calc::significant;
using calc::Spread;
using calc::time_with_uncertainty;
using calc::with_digits;
using calc::with_uncertainty;
using enum PackSize;
using enum TextTable::Align;

constexpr int percent = 100;
constexpr double metres_per_foot = 0.3048;

std::string subject(const PackQuery& query, const PackAnswer& answer) {
    if (query.format == nullptr) return "The pack";
    const auto* grade = answer.pack.grade.grade;
    return query.format->name + (grade == nullptr ? "" : ", " + grade->id);
}

std::string origin_of(PackSize size, const PackAnswer& answer) {
    if (size == answer.pack.found) return "worked out";
    const table::Fact* fact = answer.pack.figures[size].fact;
    return fact == nullptr ? "given" : "table, " + std::string(to_string(fact->standing));
}

std::string sizes_text(const PackAnswer& answer) {
    TextTable table({{"", Left}, {"", Left}, {"", Left}});
    for (const PackSize size : {Outer, Hub, Thickness, Length}) {
        std::string value = with_uncertainty(answer.sizes[size], unit_of(size));
        if (size == Length) value += fmt::format(" ({:.0f} ft)", answer.sizes[size].value / metres_per_foot);
        table.add({std::string(name_of(size)), value, origin_of(size, answer)});
    }
    table.add({"turns", with_uncertainty(answer.turns, ""), "worked out"});
    return table.to_string("  ");
}

std::string answer_line(const PackAnswer& answer, const PackQuery& query) {
    const PackSize found = answer.pack.found;
    std::string line = fmt::format("{}: {} {}", subject(query, answer), name_of(found),
                                   with_uncertainty(answer.sizes[found], unit_of(found)));
    if (query.mode != nullptr && !answer.times.empty())
        line += fmt::format("; it plays {} at {}", time_with_uncertainty(answer.times.front().seconds),
                            address_of(*query.format, *query.mode));
    return wrapped(line + ".", page_width) + "\n\n";
}

/// What the table says of the size that was worked out from a measured pack.
std::string comparison_text(const PackAnswer& answer) {
    const PackSize found = answer.pack.found;
    if (answer.pack.expected == nullptr || (found != Thickness && found != Hub)) return "";
    const auto unit = unit_of(found);
    const table::Fact& fact = *answer.pack.expected;
    return wrapped(fmt::format("The table has {} to {} {} for the {} ({}).", significant(fact.lowest_in(unit), 4),
                               significant(fact.highest_in(unit), 4), unit, name_of(found), to_string(fact.standing)),
                   page_width) +
           "\n";
}

std::string other_reel_text(const PackAnswer& answer, const PackQuery& query) {
    if (!answer.other_m) return "";
    const std::string grade = answer.pack.grade.grade->id;
    if (answer.other_m->value < 0)
        return "\n" +
               wrapped(fmt::format(
                           "That is {} more than the {} holds by the table. If it is more than the uncertainty, "
                           "the pack is loose, or hub, thickness or label are not what was taken.",
                           with_uncertainty(-answer.other_m->value, answer.other_m->standard_uncertainty, "m"), grade),
                       page_width) +
               "\n";
    std::string text =
        fmt::format("The rest of the {}, {}, is on the other reel.", grade, with_uncertainty(*answer.other_m, "m"));
    if (query.mode != nullptr && !answer.times.empty())
        text += fmt::format(
            " At {} this reel is {} and the other {}: if this is the take-up reel, the first is elapsed and the second "
            "remains; if it is the supply reel, the other way round.",
            address_of(*query.format, *query.mode), time_with_uncertainty(answer.times.front().seconds),
            time_with_uncertainty(*answer.times.front().other_seconds));
    return "\n" + wrapped(text, page_width) + "\n";
}

std::string seconds_text(const Spread& seconds) { return with_digits(seconds.value, 3) + " s"; }

/// Every mode; with the turns of the reel where the tape is all on one.
std::string times_text(const PackAnswer& answer, const PackQuery& query) {
    if (answer.times.empty()) return "";
    std::vector<TextTable::Column> columns{{"mode", Left}, {"mm/s", Right}};
    if (answer.times.front().other_seconds)
        columns.insert(columns.end(), {{"this reel", Right}, {"other reel", Right}});
    else
        columns.insert(columns.end(), {{"plays", Right}, {"turn, full", Right}, {"turn, hub", Right}});
    TextTable table(columns);
    for (const calc::PackTime& time : answer.times) {
        std::vector<std::string> cells{address_of(*query.format, *time.mode),
                                       fmt::format("{:.2f}", time.speed->in("mm/s")),
                                       time_with_uncertainty(time.seconds)};
        if (time.other_seconds)
            cells.push_back(time_with_uncertainty(*time.other_seconds));
        else
            cells.insert(cells.end(), {seconds_text(time.turn_full_s), seconds_text(time.turn_empty_s)});
        table.add(std::move(cells));
    }
    return "\n" + table.to_string();
}

void add_reel(TextTable& table, std::vector<std::string> cells, const std::string& name, const calc::ReelState& reel) {
    cells.insert(cells.end(), {name, with_digits(reel.outer_mm.value, 3), with_uncertainty(reel.turns_per_s, ""),
                               with_uncertainty(reel.pulse_period_s, "")});
    table.add(std::move(cells));
}

std::string points_text(const PackAnswer& answer, const PackQuery& query) {
    if (answer.points.empty()) return "";
    TextTable table({{"at", Left},
                     {"elapsed", Right},
                     {"remains", Right},
                     {"reel", Left},
                     {"mm", Right},
                     {"rev/s", Right},
                     {query.pulses_per_turn == 1 ? "s a turn" : "s a pulse", Right}});
    for (const calc::ReelPoint& point : answer.points) {
        add_reel(table,
                 {query.at_s ? "asked" : point.name, quantity::h_mm_ss(point.elapsed_s.value),
                  quantity::h_mm_ss(point.remaining_s.value)},
                 "take-up", point.take_up);
        add_reel(table, {"", "", ""}, "supply", point.supply);
    }
    return "\nReels while it plays, both on hubs alike\n" + table.to_string();
}

std::string rewinding_text(const PackAnswer& answer) {
    const calc::Rewinding& rewinding = answer.rewinding;
    const double ratio = rewinding.radius_ratio.value;
    return "\n" +
           wrapped(
               fmt::format("Rewinding is hardest at its end: the reel that winds pulls with {:.0f} % of the force "
                           "that it began with, since its torque now works at {} mm instead of {} mm from the "
                           "axis, while the brake of the emptied reel drags {} times as hard: pull over drag falls by "
                           "a factor of {} (torques taken as steady).",
                           percent / ratio, significant(answer.full_mm.value / 2, 3),
                           significant(answer.sizes[Hub].value / 2, 3), significant(ratio, 2),
                           significant(rewinding.margin_ratio.value, 2)),
               page_width) +
           "\n";
}

std::string shell_text(const PackAnswer& answer) {
    if (!answer.shell) return "";
    const calc::ShellCheck& check = *answer.shell;
    if (!check.fit)
        return "\n" + wrapped("Whether it fits its shell can't be said: " + check.missing + ".", page_width) + "\n";
    const double over = check.fit->needed_mm - check.fit->room_mm;
    const bool is_close = std::abs(over) < 2 * check.needed_uncertainty_mm;
    const std::string verdict = is_close             ? "within the uncertainty, so it can't be said whether it fits"
                                : check.fit->holds() ? "it fits"
                                                     : "it does not fit";
    return "\n" +
           wrapped(
               fmt::format("In its shell ({}) the whole tape needs {} of the {} of {} mm: {} ({}).", check.shell->name,
                           with_uncertainty(check.fit->needed_mm, check.needed_uncertainty_mm, "mm"),
                           check.fit->is_width ? "width" : "depth", significant(check.fit->room_mm, 4), verdict,
                           assumption_of(check.room->arrangement)),
               page_width) +
           "\n";
}

std::string closing_text(const PackAnswer& answer, const PackQuery& query, const table::Table& table, bool explain) {
    std::string text =
        "± is one standard uncertainty, from the tolerances of the table and of what was given; a figure given without "
        "± "
        "is taken to be good to half its last digit. No air between the turns: a loose pack is larger.";
    if (explain) text += " Beside a formula, ± is the whole tolerance.";
    if (query.mode == nullptr && !answer.times.empty())
        text += " Name one mode with --address to see its reels along the tape.";
    return "\n" + wrapped(text, page_width) + "\n" +
           (query.format == nullptr ? "" : edition_text(table.edition) + ".\n");
}

Json spread_json(const Spread& spread) {
    return {{"value", spread.value}, {"uncertainty", spread.standard_uncertainty}};
}

Json reel_json(const calc::ReelState& reel) {
    return {{"outer_mm", reel.outer_mm.value},
            {"turns_per_s", reel.turns_per_s.value},
            {"pulse_period_s", reel.pulse_period_s.value},
            {"pulse_period_uncertainty_s", reel.pulse_period_s.standard_uncertainty}};
}

Json time_json(const calc::PackTime& time, const PackQuery& query) {
    Json json = {{"address", address_of(*query.format, *time.mode)},
                 {"tape_speed_mm_s", time.speed->in("mm/s")},
                 {"seconds", time.seconds.value},
                 {"seconds_uncertainty", time.seconds.standard_uncertainty},
                 {"turn_full_s", time.turn_full_s.value},
                 {"turn_empty_s", time.turn_empty_s.value}};
    if (time.other_seconds) json["other_reel_seconds"] = time.other_seconds->value;
    return json;
}

Json shell_json(const calc::ShellCheck& check) {
    if (!check.fit) return {{"fits", nullptr}, {"reason", check.missing}};
    return {{"fits", check.fit->holds()},        {"side", check.fit->is_width ? "width" : "depth"},
            {"needed_mm", check.fit->needed_mm}, {"needed_uncertainty_mm", check.needed_uncertainty_mm},
            {"room_mm", check.fit->room_mm},     {"assumption", assumption_of(check.room->arrangement)}};
}

Json uncertainties_json(const PackAnswer& answer, bool has_time) {
    Json json = {{"length_m", answer.sizes[Length].standard_uncertainty}};
    if (has_time) json["seconds"] = answer.times.front().seconds.standard_uncertainty;
    json["outer_mm"] = answer.sizes[Outer].standard_uncertainty;
    json["hub_mm"] = answer.sizes[Hub].standard_uncertainty;
    json["thickness_um"] = answer.sizes[Thickness].standard_uncertainty;
    json["turns"] = answer.turns.standard_uncertainty;
    return json;
}

std::string_view key_of(PackSize size) {
    constexpr std::string_view keys[] = {"length_m", "outer_mm", "hub_mm", "thickness_um"};
    return keys[static_cast<std::size_t>(size)];
}

/// Who measured a pack has the tape in hand and may wind it next; who times reels looks into an open machine.
std::vector<std::string> cautions_of(const PackAnswer& answer, const PackQuery& query) {
    std::vector<std::string> ids;
    if (query.given[PackSize::Outer]) ids = {"mould", "sticky"};
    if (!answer.points.empty()) ids.push_back("rotating-drum");
    return ids;
}

}  // namespace

std::string pack_text(const PackAnswer& answer, const PackQuery& query, const table::Table& table, bool explain) {
    std::string text = answer_line(answer, query) + sizes_text(answer) + comparison_text(answer) +
                       other_reel_text(answer, query) + times_text(answer, query) + points_text(answer, query) +
                       rewinding_text(answer) + shell_text(answer);
    text += cautions_text(table, cautions_of(answer, query));
    if (explain) text += working_text(answer.working, table);
    return text + closing_text(answer, query, table, explain);
}

std::string pack_json(const PackAnswer& answer, const PackQuery& query, const table::Table& table, bool explain) {
    const bool has_time = query.mode != nullptr && !answer.times.empty();
    Json json = Json::object();
    if (query.format != nullptr) json["format"] = query.format->id;
    if (answer.pack.grade.grade != nullptr) json["grade"] = answer.pack.grade.grade->id;
    if (query.mode != nullptr) json["address"] = address_of(*query.format, *query.mode);
    json["found"] = key_of(answer.pack.found);
    json["length_m"] = answer.sizes[Length].value;
    json["seconds"] = has_time ? Json(answer.times.front().seconds.value) : Json(nullptr);
    for (const PackSize size : {Outer, Hub, Thickness}) json[std::string(key_of(size))] = answer.sizes[size].value;
    json["turns"] = answer.turns.value;
    json["uncertainties"] = uncertainties_json(answer, has_time);
    if (answer.other_m)
        json["other_reel"] = {{"length_m", answer.other_m->value},
                              {"length_uncertainty_m", answer.other_m->standard_uncertainty}};
    json["times"] = Json::array();
    for (const calc::PackTime& time : answer.times) json["times"].push_back(time_json(time, query));
    json["reels"] = Json::array();
    for (const calc::ReelPoint& point : answer.points)
        json["reels"].push_back({{"at", point.name},
                                 {"elapsed_s", point.elapsed_s.value},
                                 {"remaining_s", point.remaining_s.value},
                                 {"take_up", reel_json(point.take_up)},
                                 {"supply", reel_json(point.supply)}});
    json["rewinding"] = {{"radius_ratio", spread_json(answer.rewinding.radius_ratio)},
                         {"pull_over_drag_falls_by", spread_json(answer.rewinding.margin_ratio)}};
    if (answer.shell) json["shell"] = shell_json(*answer.shell);
    if (query.format != nullptr) json["table_version"] = table.edition.version;
    if (explain) json["working"] = working_json(answer.working);
    return to_text(json);
}

}  // namespace guardband::report
