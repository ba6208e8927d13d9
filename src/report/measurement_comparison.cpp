#include "report/measurement_comparison.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/figure_page.h"
#include "report/json.h"
#include "report/text_table.h"

namespace guardband::report {
namespace {

using quantity::Component;
using quantity::Figure;

constexpr double coverage_factor = 2;
constexpr double same_rate_share = 0.02;  ///< components whose rates differ by less are held to be of one cause

const std::vector<Component>* components_of(const Figure* figure) {
    return figure == nullptr ? nullptr : std::get_if<std::vector<Component>>(&figure->value());
}

/// `no change`, `up by 0.3 %`, `down by …`.
std::string change_text(const Figure& before, const Figure& after) {
    const auto from = before.number(), to = after.number();
    if (!from || !to) return "";
    const double change = *to - *from;
    const double uncertainty = std::hypot(before.uncertainty().value_or(0), after.uncertainty().value_or(0));
    if (std::abs(change) <= coverage_factor * uncertainty) return "no change";
    const std::string unit = after.unit().empty() || after.unit() == "ratio" ? "" : " " + after.unit();
    return fmt::format("{} {:.2g}{}", change > 0 ? "up by" : "down by", std::abs(change), unit);
}

/// The value alone: its uncertainty is behind the verdict on the change.
std::string value_text(const Figure* figure) {
    if (figure == nullptr) return "-";
    const auto number = figure->number();
    if (!number) return figure_value_text(*figure);
    const std::string unit = figure->unit() == "ratio" ? "" : " " + figure->unit();
    return (figure->unit() == "%" ? fmt::format("{:.3g}", *number) : fmt::format("{:.7g}", *number)) + unit;
}

const Component* counterpart(const Component& component, const std::vector<Component>& others) {
    const auto found = std::ranges::find_if(others, [&](const Component& other) {
        return other.part == component.part && other.harmonic == component.harmonic &&
               std::abs(other.hz / component.hz - 1) < same_rate_share;
    });
    return found == others.end() ? nullptr : &*found;
}

std::string name_of(const Component& component) {
    std::string name = fmt::format("  {:.4g} Hz", component.hz);
    if (!component.part.empty()) name += " " + component.part;
    if (component.harmonic > 1) name += fmt::format(", harmonic {}", component.harmonic);
    return name;
}

void add_components(TextTable& table, const std::vector<Component>& before, const std::vector<Component>& after) {
    const auto depth = [](const Component& c) { return fmt::format("± {:.3g} %", c.depth_percent); };
    for (const Component& now : after) {
        const Component* then = counterpart(now, before);
        table.add({name_of(now), then == nullptr ? "-" : depth(*then), depth(now), then == nullptr ? "new" : ""});
    }
    for (const Component& then : before)
        if (counterpart(then, after) == nullptr) table.add({name_of(then), depth(then), "-", "gone"});
}

Json part_json(const Measurement& measurement) {
    const Json whole = Json::parse(measurement_json(measurement));
    return {{"input", whole["input"]}, {"figures", whole["figures"]}, {"events", whole["events"]}};
}

}  // namespace

std::string comparison_text(const Measurement& before, const Measurement& after,
                            const std::vector<FigureTitle>& titles) {
    using enum TextTable::Align;
    TextTable table({{"", Left}, {"before", Left}, {"after", Left}, {"", Left}});
    std::string reasons;
    for (const FigureTitle& title : titles) {
        const Figure *from = before.figures.find(title.id), *to = after.figures.find(title.id);
        const auto *parts_before = components_of(from), *parts_after = components_of(to);
        if (parts_before != nullptr && parts_after != nullptr) {
            table.add_line(std::string(title.title));
            add_components(table, *parts_before, *parts_after);
            continue;
        }
        table.add({std::string(title.title), value_text(from), value_text(to),
                   from != nullptr && to != nullptr ? change_text(*from, *to) : ""});
        for (const auto& [word, figure] : {std::pair{"before", from}, std::pair{"after", to}})
            if (figure != nullptr && !figure->is_known())
                reasons += "  " +
                           wrapped(fmt::format("{}, {}: {}", title.title, word, figure->reason()), page_width, 4) +
                           "\n";
    }
    constexpr std::size_t indent = 8;
    std::string text = "Before: " + wrapped(before.headline, page_width, indent) + "\n";
    text += "After:  " + wrapped(after.headline, page_width, indent) + "\n\n";
    text += table.to_string("  ");
    if (!reasons.empty()) text += "\nNot measured\n" + reasons;
    return text + "\n" + edition_text(after.edition) + ".\n";
}

std::string comparison_json(const Measurement& before, const Measurement& after) {
    Json json = Json::parse(measurement_json(after));
    json["before"] = part_json(before);
    return to_text(json);
}

}  // namespace guardband::report
