#include "report/closure_report.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>

#include "report/figure_page.h"
#include "report/json.h"
#include "report/text_table.h"

namespace guardband::report {
namespace {

using calc::Closure;
using calc::ClosureKind;
using calc::Outcome;

std::string number_text(const std::optional<double>& value) { return value ? fmt::format("{:.5g}", *value) : "-"; }

bool is_in_print(const Closure& closure) { return closure.rests_on && *closure.rests_on <= table::Standing::Published; }

using Wanted = std::function<bool(const Closure&)>;

std::string count_text(const std::vector<Closure>& closures, const Wanted& wanted) {
    const auto count = std::ranges::count_if(closures, wanted);
    return count == 0 ? "-" : std::to_string(count);
}

/// A column of the summary.
struct Tally {
    std::string heading;
    Wanted wanted;
};

/// The outcomes that there are, and of those that hold, what they rest on.
std::vector<Tally> tallies(const std::vector<Closure>& closures) {
    std::vector<Tally> all;
    for (const Outcome outcome : calc::all_outcomes()) {
        const auto ends_so = [=](const Closure& c) { return c.outcome == outcome; };
        if (std::ranges::none_of(closures, ends_so)) continue;
        all.push_back({std::string(to_string(outcome)), ends_so});
        if (outcome != Outcome::Holds) continue;
        all.push_back({"in print", [](const Closure& c) { return c.outcome == Outcome::Holds && is_in_print(c); }});
        all.push_back({"taken over", [](const Closure& c) { return c.outcome == Outcome::Holds && c.taken_over; }});
    }
    return all;
}

std::string summary_text(const std::vector<Closure>& closures) {
    using enum TextTable::Align;
    std::vector<TextTable::Column> columns{{"check", Left}};
    const std::vector<Tally> all_tallies = tallies(closures);
    for (const Tally& tally : all_tallies) columns.push_back({tally.heading, Right});
    TextTable rows(columns);
    const auto add_row = [&](std::string_view name, const Wanted& of_row) {
        std::vector<std::string> cells{std::string(name)};
        for (const Tally& tally : all_tallies)
            cells.push_back(count_text(closures, [&](const Closure& c) { return of_row(c) && tally.wanted(c); }));
        rows.add(std::move(cells));
    };
    for (const ClosureKind kind : calc::all_closure_kinds())
        if (std::ranges::any_of(closures, [&](const Closure& c) { return c.kind == kind; }))
            add_row(to_string(kind), [=](const Closure& c) { return c.kind == kind; });
    add_row("all", [](const Closure&) { return true; });
    return rows.to_string();
}

std::string claims_text(const std::vector<Closure>& closures) {
    std::string text = "\nWhat each demands\n";
    for (const ClosureKind kind : calc::all_closure_kinds()) {
        if (std::ranges::none_of(closures, [&](const Closure& c) { return c.kind == kind; })) continue;
        const std::string name = "  " + padded(to_string(kind), 21);
        text += name + wrapped(claim_of(kind), wide_page_width, display_width(name)) + "\n";
    }
    return text;
}

/// `≤`-like words stand before a value, tolerances behind it.
std::string comparison_text(const Closure& closure) {
    const std::string allowed = closure.tolerance.empty() ? "" : fmt::format(" (allowed: {})", closure.tolerance);
    return fmt::format("{}: {}: {} {} worked out, {} {} printed{}", place_of(closure), to_string(closure.kind),
                       number_text(closure.derived), closure.unit, number_text(closure.printed), closure.unit, allowed);
}

std::string list_text(const std::string& heading, const std::vector<Closure>& closures, const Wanted& wanted) {
    std::string text;
    for (const Closure& closure : closures) {
        if (!wanted(closure)) continue;
        text += wrapped("  " + comparison_text(closure), wide_page_width, 2) + "\n";
        if (!closure.reason.empty()) text += "      " + wrapped(closure.reason, wide_page_width, 6) + "\n";
    }
    return text.empty() ? "" : "\n" + heading + "\n" + text;
}

std::string differences_text(const std::vector<Closure>& closures) {
    const auto ends = [](Outcome outcome) { return [=](const Closure& c) { return c.outcome == outcome; }; };
    return list_text("Differs, and the file does not say why", closures, ends(Outcome::Differs)) +
           list_text("Agrees, though the file says that it does not", closures, ends(Outcome::NotedInVain)) +
           list_text("Differs, and the file says why", closures, ends(Outcome::DiffersAsNoted));
}

/// A row, and below it the reason.
void add_closure(TextTable& rows, const Closure& c) {
    rows.add({"  " + std::string(to_string(c.kind)), number_text(c.derived), number_text(c.printed), c.unit,
              c.tolerance, std::string(to_string(c.outcome)),
              c.rests_on ? std::string(table::to_string(*c.rests_on)) : ""});
    if (!c.reason.empty()) rows.add_line("      " + wrapped(c.reason, wide_page_width, 6));
}

std::string whole_list_text(const std::vector<Closure>& closures) {
    using enum TextTable::Align;
    TextTable rows({{"  check", Left},
                    {"worked out", Right},
                    {"printed", Right},
                    {"", Left},
                    {"allowed", Left},
                    {"", Left},
                    {"rests on", Left}});
    std::string place;
    for (const Closure& closure : closures) {
        if (place_of(closure) != place) rows.add_line(place = place_of(closure));
        add_closure(rows, closure);
    }
    return "\n" + rows.to_string();
}

std::string heading_text(const std::vector<Closure>& closures, const table::Edition& edition) {
    const auto faults = std::ranges::count_if(closures, &Closure::is_fault);
    const std::string verdict =
        faults == 0 ? "every difference is explained" : fmt::format("{} to mend or to explain", faults);
    return wrapped(edition_text(edition) + ".", wide_page_width) + "\n" +
           fmt::format("{} closures, {}.\n\n", closures.size(), verdict);
}

std::string explanation_text() {
    return "\n" +
           wrapped(
               "A closure works a figure out from others and holds it against the one that is printed. Of those that "
               "hold, in print: every figure that it "
               "rests on was seen in a standard or another source; taken over: every figure is that of the format it "
               "is based on, so it is no new proof. Over the label: the tape runs up to 6 % longer than the minutes "
               "that its "
               "label promises. Circular: one side was computed from the other, so that it proves "
               "nothing. Can't tell: a figure is missing. --all lists every one.",
               wide_page_width) +
           "\n";
}

}  // namespace

Json closure_json(const Closure& c) {
    Json json = {{"address", c.address}, {"grade", nullptr},         {"check", to_string(c.kind)},
                 {"figure", c.figure},   {"derived", nullptr},       {"printed", nullptr},
                 {"unit", c.unit},       {"tolerance", c.tolerance}, {"outcome", to_string(c.outcome)},
                 {"reason", c.reason},   {"rests_on", nullptr},      {"taken_over", c.taken_over}};
    if (!c.grade.empty()) json["grade"] = c.grade;
    if (c.derived) json["derived"] = *c.derived;
    if (c.printed) json["printed"] = *c.printed;
    if (c.rests_on) json["rests_on"] = table::to_string(*c.rests_on);
    return json;
}

std::string closures_text(const std::vector<Closure>& closures, const table::Edition& edition, bool all) {
    std::string text = heading_text(closures, edition) + summary_text(closures);
    if (all) return text + claims_text(closures) + whole_list_text(closures);
    return text + explanation_text() + differences_text(closures);
}

std::string closures_csv(const std::vector<Closure>& closures) {
    TextTable rows({{"address"},
                    {"grade"},
                    {"check"},
                    {"figure"},
                    {"derived"},
                    {"printed"},
                    {"unit"},
                    {"tolerance"},
                    {"outcome"},
                    {"reason"},
                    {"rests_on"},
                    {"taken_over"}});
    const auto cell = [](const std::optional<double>& value) { return value ? quantity::shortest(*value) : ""; };
    for (const Closure& c : closures)
        rows.add({c.address, c.grade, std::string(to_string(c.kind)), c.figure, cell(c.derived), cell(c.printed),
                  c.unit, c.tolerance, std::string(to_string(c.outcome)), c.reason,
                  c.rests_on ? std::string(table::to_string(*c.rests_on)) : "", c.taken_over ? "yes" : "no"});
    return rows.to_csv();
}

std::string closures_json(const std::vector<Closure>& closures, const table::Edition& edition) {
    Json list = Json::array();
    for (const Closure& closure : closures) list.push_back(closure_json(closure));
    Json json = {{"closures", list}, {"table_version", edition.version}, {"table_changed", edition.changed}};
    if (!edition.additions.empty()) json["table_additions"] = edition.additions;
    return to_text(json);
}

}  // namespace guardband::report
