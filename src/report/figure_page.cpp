#include "report/figure_page.h"

#include <fmt/format.h>

#include <algorithm>

#include "report/fact_text.h"

namespace guardband::report {
namespace {

using table::Fact;

}  // namespace

void Unknowns::add(const std::string& reason, const std::string& figure) {
    auto found = std::ranges::find(reasons_, reason, &ByReason::reason);
    if (found == reasons_.end()) found = reasons_.insert(reasons_.end(), {reason, {}});
    if (std::ranges::find(found->figures, figure) == found->figures.end()) found->figures.push_back(figure);
}

std::vector<std::string> Unknowns::lines() const {
    std::vector<std::string> lines;
    for (const auto& [reason, figures] : reasons_)
        lines.push_back(fmt::format("{} ({})", fmt::join(figures, ", "), reason));
    return lines;
}

std::string common_unit(const std::vector<const Fact*>& facts) {
    const quantity::Unit* unit = nullptr;
    for (const Fact* fact : facts) {
        if (fact == nullptr || !fact->is_number()) continue;
        const quantity::Unit& shown = shown_unit(*fact);
        if (unit != nullptr && unit != &shown) return "";
        unit = &shown;
    }
    return unit == nullptr ? "" : std::string(unit->name == "deg" ? "°" : unit->name);
}

void FigurePageWriter::add_row(Block& block, const FactRow& facts) {
    if (std::ranges::none_of(facts.facts, [](const Fact* fact) { return fact != nullptr && fact->is_known(); })) return;
    Row row;
    row.title = facts.title;
    if (facts.facts.size() > 1) row.unit = common_unit(facts.facts);
    for (const Fact* fact : facts.facts) {
        Cell cell;
        if (fact != nullptr && fact->is_known())
            cell.push_back(
                {"", value_text(*fact, row.unit.empty() ? WithUnit::Yes : WithUnit::No), notes_.cite(*fact)});
        row.cells.push_back(std::move(cell));
    }
    block.rows.push_back(std::move(row));
}

FigurePage FigurePageWriter::finish() && {
    page_.unknowns = unknowns_.lines();
    page_.remarks = notes_.remarks();
    page_.sources = notes_.sources();
    page_.standings = notes_.standings();
    return std::move(page_);
}

std::string edition_text(const table::Edition& edition) {
    std::string text = fmt::format("Table {} of {}", edition.version, edition.changed);
    if (!edition.additions.empty()) text += fmt::format(", with the files of {}", fmt::join(edition.additions, ", "));
    return text;
}

}  // namespace guardband::report
