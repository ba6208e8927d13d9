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

constexpr std::size_t page_width = 130;
constexpr std::size_t reason_width = 56;  // leaves room for the other columns of the whole list

std::string number_text(const std::optional<double>& value) { return value ? fmt::format("{:.5g}", *value) : "-"; }

bool is_in_print(const Closure& closure) { return closure.rests_on && *closure.rests_on <= table::Standing::Published; }

using Wanted = std::function<bool(const Closure&)>;

std::string count_text(const std::vector<Closure>& closures, const Wanted& wanted) {
    const auto count = std::ranges::count_if(closures, wanted);
    return count == 0 ? "-" : std::to_string(count);
}

/// One row of the summary: how the closures that `wanted` picks end.
void add_counts(TextTable& rows, std::string_view name, const std::vector<Closure>& closures, const Wanted& wanted) {
    std::vector<std::string> cells{std::string(name)};
    const auto add = [&](const Wanted& more) {
        cells.push_back(count_text(closures, [&](const Closure& c) { return wanted(c) && more(c); }));
    };
    for (const Outcome outcome : calc::all_outcomes()) {
        add([=](const Closure& c) { return c.outcome == outcome; });
        if (outcome != Outcome::Holds) continue;
        add([](const Closure& c) { return c.outcome == Outcome::Holds && is_in_print(c); });
        add([](const Closure& c) { return c.outcome == Outcome::Holds && c.taken_over; });
    }
    rows.add(std::move(cells));
}

std::string summary_text(const std::vector<Closure>& closures) {
    using enum TextTable::Align;
    std::vector<TextTable::Column> columns{{"check", Left}};
    for (const Outcome outcome : calc::all_outcomes()) {
        columns.push_back({std::string(to_string(outcome)), Right});
        if (outcome != Outcome::Holds) continue;
        columns.push_back({"in print", Right});
        columns.push_back({"taken over", Right});
    }
    TextTable rows(columns);
    for (const ClosureKind kind : calc::all_closure_kinds())
        if (std::ranges::any_of(closures, [&](const Closure& c) { return c.kind == kind; }))
            add_counts(rows, to_string(kind), closures, [=](const Closure& c) { return c.kind == kind; });
    add_counts(rows, "all", closures, [](const Closure&) { return true; });
    return rows.to_string();
}

std::string claims_text(const std::vector<Closure>& closures) {
    std::string text = "\nWhat each demands\n";
    for (const ClosureKind kind : calc::all_closure_kinds()) {
        if (std::ranges::none_of(closures, [&](const Closure& c) { return c.kind == kind; })) continue;
        const std::string name = "  " + padded(to_string(kind), 21);
        text += name + wrapped(claim_of(kind), page_width, display_width(name)) + "\n";
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
        text += wrapped("  " + comparison_text(closure), page_width, 2) + "\n";
        if (!closure.reason.empty()) text += "      " + wrapped(closure.reason, page_width, 6) + "\n";
    }
    return text.empty() ? "" : "\n" + heading + "\n" + text;
}

std::string differences_text(const std::vector<Closure>& closures) {
    const auto ends = [](Outcome outcome) { return [=](const Closure& c) { return c.outcome == outcome; }; };
    return list_text("Differs, and the file does not say why", closures, ends(Outcome::Differs)) +
           list_text("Agrees, though the file says that it does not", closures, ends(Outcome::NotedInVain)) +
           list_text("Differs, and the file says why", closures, ends(Outcome::DiffersAsNoted));
}

/// A row, and as many more as the reason takes.
void add_closure(TextTable& rows, const Closure& c) {
    const std::string reason = wrapped(c.reason, reason_width);
    std::size_t end = std::min(reason.find('\n'), reason.size());
    rows.add({"  " + std::string(to_string(c.kind)), number_text(c.derived), number_text(c.printed), c.unit,
              c.tolerance, std::string(to_string(c.outcome)),
              c.rests_on ? std::string(table::to_string(*c.rests_on)) : "", reason.substr(0, end)});
    while (end < reason.size()) {
        const std::size_t from = end + 1;
        end = std::min(reason.find('\n', from), reason.size());
        rows.add({"", "", "", "", "", "", "", reason.substr(from, end - from)});
    }
}

std::string whole_list_text(const std::vector<Closure>& closures) {
    using enum TextTable::Align;
    TextTable rows({{"  check", Left},
                    {"worked out", Right},
                    {"printed", Right},
                    {"", Left},
                    {"allowed", Left},
                    {"", Left},
                    {"rests on", Left},
                    {"", Left}});
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
    return wrapped(fmt::format("{}: {} closures, {}.", edition_text(edition), closures.size(), verdict), page_width) +
           "\n\n";
}

std::string explanation_text() {
    return "\n" +
           wrapped(
               "A closure works a figure out from others and holds it against the one that is printed. Of those that "
               "hold, in print: every figure that it "
               "rests on was seen in a standard or another source; taken over: every figure is that of the format it "
               "is based on, so it is no new proof. Circular: one side was computed from the other, so that it proves "
               "nothing. Can't tell: a figure is missing. --all lists every one.",
               page_width) +
           "\n";
}

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

}  // namespace

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
