#include "report/working_report.h"

#include <algorithm>
#include <sstream>

#include "quantity/errors.h"
#include "report/figure_page_text.h"
#include "report/page_notes.h"
#include "report/text_table.h"

namespace guardband::report {
namespace {

using calc::Given;
using calc::Step;

constexpr std::size_t formula_indent = 4;

/// Where the equals sign of a formula stands, so that the numbers and the result go under it.
std::size_t equals_column(const std::string& formula) {
    const std::size_t at = formula.find(" = ");
    return formula_indent + (at == std::string::npos ? 0 : display_width(formula.substr(0, at)) + 1);
}

std::string under_equals(const std::string& text, std::size_t column) {
    return text.empty() ? "" : std::string(column, ' ') + "= " + wrapped(text, page_width, column + 2) + "\n";
}

std::string origin_text(const Given& given, PageNotes& notes) {
    if (given.fact == nullptr) return given.origin;
    std::string text;
    for (const Mark& mark : notes.cite(*given.fact)) text += to_string(mark);
    return text + (given.origin.empty() ? "" : (text.empty() ? "" : " ") + given.origin);
}

/// Columns of symbol, value and meaning, as wide as they must be.
std::size_t width_before_origin(const std::vector<Given>& givens) {
    constexpr std::size_t gaps = 3 * 2;
    std::size_t symbol = 0, value = 0, meaning = 0;
    for (const Given& given : givens) {
        symbol = std::max(symbol, display_width(given.symbol));
        value = std::max(value, display_width(given.value));
        meaning = std::max(meaning, display_width(given.meaning));
    }
    return symbol + value + meaning + gaps;
}

/// One given a row; an origin that is too long for the page goes on below.
std::string givens_text(const std::vector<Given>& givens, PageNotes& notes) {
    constexpr std::size_t indent = formula_indent + 2, least_origin = 12;
    const std::size_t taken = indent + width_before_origin(givens);
    const std::size_t room = std::max(least_origin, page_width - std::min(page_width, taken));
    using enum TextTable::Align;
    TextTable table({{"", Left}, {"", Left}, {"", Left}, {"", Left}});
    for (const Given& given : givens) {
        std::istringstream lines(wrapped(origin_text(given, notes), room));
        std::string line;
        std::getline(lines, line);
        table.add({given.symbol, given.value, given.meaning, line});
        while (std::getline(lines, line)) table.add({"", "", "", line});
    }
    return table.to_string(std::string(indent, ' '));
}

std::string step_text(const Step& step, PageNotes& notes) {
    const std::size_t column = equals_column(step.formula);
    std::string text = "  " +
                       wrapped(step.meaning + (step.source.empty() ? "" : " (" + step.source + ")"), page_width, 2) +
                       "\n" + std::string(formula_indent, ' ') + wrapped(step.formula, page_width, column + 2) + "\n";
    return text + under_equals(step.numbers, column) + under_equals(step.result, column) +
           givens_text(step.givens, notes);
}

Json given_json(const Given& given) {
    Json json = {{"symbol", given.symbol}, {"meaning", given.meaning}, {"value", given.value}};
    if (given.fact != nullptr) {
        json["key"] = given.fact->key;
        json["source"] = given.fact->source;
        json["standing"] = table::to_string(given.fact->standing);
    }
    if (!given.origin.empty()) json["origin"] = given.origin;
    return json;
}

}  // namespace

std::string working_text(const calc::Working& working, const table::Table& table) {
    if (working.empty()) return "";
    PageNotes notes(table);
    std::string text = "\nHow it was got\n";
    for (const Step& step : working) text += step_text(step, notes);
    return text + notes_text({notes.remarks(), notes.sources(), notes.standings()}, page_width);
}

Json working_json(const calc::Working& working) {
    Json list = Json::array();
    for (const Step& step : working) {
        Json givens = Json::array();
        for (const Given& given : step.givens) givens.push_back(given_json(given));
        list.push_back({{"meaning", step.meaning},
                        {"formula", step.formula},
                        {"numbers", step.numbers},
                        {"result", step.result},
                        {"source", step.source},
                        {"givens", std::move(givens)}});
    }
    return list;
}

std::string cautions_text(const table::Table& table, const std::vector<std::string>& ids) {
    std::string text;
    for (const std::string& id : ids) {
        const auto caution = std::ranges::find(table.cautions, id, &table::Caution::id);
        if (caution == table.cautions.end()) throw quantity::DomainError("no caution \"" + id + "\" in the table");
        text += "\n" + wrapped("Caution. " + caution->title + ": " + caution->text, page_width) + "\n";
    }
    return text;
}

}  // namespace guardband::report
