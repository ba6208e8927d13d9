#include "measure/clip/generation_signs.h"

#include <fmt/format.h>

#include <algorithm>
#include <string>

namespace guardband::measure {
namespace {

using quantity::Figure;

/// Overshoot of a step whose band ends at once, %: Gibbs' 8.95, rounded up.
constexpr double overshoot_of_band_end = 9;
constexpr double sure = 2;  ///< standard uncertainties

bool is_known(const Figure* figure) { return figure != nullptr && figure->number().has_value(); }

bool exceeds(const Figure* figure, double threshold) {
    return is_known(figure) && *figure->number() - sure * figure->uncertainty().value_or(0) > threshold;
}

/// What the table lets a single pass lower colour by, frame lines; nothing if it has no such limit.
std::optional<double> most_lowered_lines(const table::Table& table) {
    const auto rule = std::ranges::find_if(table.limits, [](const table::LimitRule& limit) {
        return limit.figure == "chroma_lower" && limit.format.empty() && limit.high;
    });
    return rule != table.limits.end() ? rule->high->value : std::nullopt;
}

void append(std::string& text, const char* separator, const std::string& more) {
    text += (text.empty() ? "" : separator) + more;
}

}  // namespace

GenerationSigns::GenerationSigns(const ClipContext& context)
    : most_lowered_lines_(measure::most_lowered_lines(context.table)) {}

void GenerationSigns::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    add_to(figures, most_lowered_lines_);
}

void GenerationSigns::add_to(quantity::Figures& figures, std::optional<double> most_lowered_lines) {
    const Figure *lower = figures.find("chroma_lower"), *overshoot = figures.find("edge_overshoot");
    std::string signs, why;
    if (most_lowered_lines && exceeds(lower, *most_lowered_lines)) {
        append(signs, ", ", "colour lowered");
        append(why, "; ", fmt::format("colour lies {:.1f} lines lower", *lower->number()));
    }
    if (exceeds(overshoot, overshoot_of_band_end)) {
        append(signs, ", ", "edges sharpened");
        append(why, "; ", fmt::format("edges overshoot by {:.0f} %", *overshoot->number()));
    }
    if (signs.empty() && !(is_known(lower) && is_known(overshoot))) {
        figures.add("generation_signs", Figure::unknown("how low colour lies or how edges overshoot isn't known"));
        return;
    }
    Figure figure = Figure::text(signs.empty() ? "none" : signs);
    figures.add("generation_signs", figure.with_note(why));
}

}  // namespace guardband::measure
