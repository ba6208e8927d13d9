#include "report/search_report.h"

#include <fmt/format.h>

#include <algorithm>

#include "report/fact_text.h"
#include "report/figure_page.h"
#include "report/figure_page_text.h"
#include "report/format_page.h"
#include "report/json.h"
#include "report/text_table.h"

namespace guardband::report {
namespace {

using table::Condition;
using table::Finding;
using table::KeyRule;

/// Each finding with all its facts; a page of its own, so that sources and remarks stand behind them as on the page of
/// a format.
Row row_of(const Finding& finding, const std::vector<Condition>& conditions, PageNotes& notes) {
    Row row{table::place_of(finding), "", {}, {}};
    for (std::size_t i = 0; i < conditions.size(); ++i)
        row.cells.push_back({{"", value_text(*finding.facts[i]), notes.cite(*finding.facts[i])}});
    return row;
}

std::vector<std::string> addresses_of(const Finding& finding) {
    std::vector<std::string> addresses;
    for (const table::Mode& mode : finding.format->modes)
        if ((finding.system.empty() || mode.system == finding.system) &&
            (finding.mode.empty() || mode.id == finding.mode))
            addresses.push_back(address_of(*finding.format, mode));
    return addresses;
}

Json text_or_null(const std::string& text) { return text.empty() ? Json(nullptr) : Json(text); }

std::string kind_text(const KeyRule& rule) {
    if (rule.kind == KeyRule::Kind::Text) return "text";
    return rule.kind == KeyRule::Kind::Count ? "count" : "number";
}

std::string unit_or_kind(const KeyRule& rule) { return rule.unit.empty() ? kind_text(rule) : std::string(rule.unit); }

}  // namespace

std::string search_text(const table::Table& table, const std::vector<Condition>& conditions,
                        const std::vector<Finding>& findings) {
    if (findings.empty()) return "Nothing in the table fits all of these.\n\n" + edition_text(table.edition) + ".\n";
    FigurePageWriter writer(
        table, fmt::format("{} {} in the table", findings.size(), findings.size() == 1 ? "place" : "places"));
    Block block;
    for (const Condition& condition : conditions) block.columns.push_back({"", std::string(condition.rule->title)});
    for (const Finding& finding : findings) block.rows.push_back(row_of(finding, conditions, writer.notes()));
    writer.page().groups.push_back({"Where", {block}, ""});
    return figure_page_text(std::move(writer).finish(), table.edition);
}

std::string search_csv(const std::vector<Condition>& conditions, const std::vector<Finding>& findings) {
    std::vector<TextTable::Column> columns{{"format"}, {"system"}, {"mode"}, {"shell"}, {"grade"}};
    for (const Condition& condition : conditions)
        columns.push_back({search_name(*condition.rule) +
                           (condition.rule->unit.empty() ? "" : "_" + std::string(condition.rule->unit))});
    TextTable rows(columns);
    for (const Finding& f : findings) {
        std::vector<std::string> cells{f.format->id, f.system, f.mode, f.shell == nullptr ? "" : f.shell->id,
                                       f.grade == nullptr ? "" : f.grade->id};
        for (std::size_t i = 0; i < conditions.size(); ++i)
            cells.push_back(f.facts[i]->is_number() ? quantity::shortest(f.facts[i]->in(conditions[i].rule->unit))
                                                    : f.facts[i]->printed);
        rows.add(std::move(cells));
    }
    return rows.to_csv();
}

std::string search_json(const table::Table& table, const std::vector<Condition>& conditions,
                        const std::vector<Finding>& findings) {
    Json list = Json::array();
    for (const Finding& f : findings) {
        Json entry = {{"format", f.format->id},
                      {"system", text_or_null(f.system)},
                      {"mode", text_or_null(f.mode)},
                      {"shell", f.shell == nullptr ? Json(nullptr) : Json(f.shell->id)},
                      {"grade", f.grade == nullptr ? Json(nullptr) : Json(f.grade->id)},
                      {"addresses", addresses_of(f)}};
        for (std::size_t i = 0; i < conditions.size(); ++i)
            entry["figures"][search_name(*conditions[i].rule)] = to_json(*f.facts[i]);
        list.push_back(std::move(entry));
    }
    return to_text(with_edition(Json{{"found", list}}, table));
}

std::string keys_text() {
    using enum TextTable::Align;
    TextTable rows({{"key", Left}, {"unit", Left}, {"figure", Left}, {"section", Left}});
    for (const KeyRule* rule : table::searchable_rules())
        rows.add(
            {search_name(*rule), unit_or_kind(*rule), std::string(rule->title), std::string(to_string(rule->section))});
    return rows.to_string() + "\n" +
           wrapped(
               "Search with --where KEY=VALUE, as often as need be: tape_width=12.65, drum_diameter=62±0.5, "
               "tape_speed=23-24mm/s, colour_under_carrier=629kHz, "
               "coating=metal. A number without a unit is in the unit above; without ± it is met within its rounding "
               "and the table's tolerances. A text is "
               "met by a part of it.",
               wide_page_width) +
           "\n";
}

std::string keys_json() {
    Json list = Json::array();
    for (const KeyRule* rule : table::searchable_rules()) {
        Json entry = {{"key", search_name(*rule)},
                      {"section", to_string(rule->section)},
                      {"kind", kind_text(*rule)},
                      {"unit", rule->unit},
                      {"title", rule->title}};
        if (rule->kind != KeyRule::Kind::Text) entry["low"] = rule->low, entry["high"] = rule->high;
        list.push_back(std::move(entry));
    }
    return to_text(Json{{"keys", list}});
}

}  // namespace guardband::report
