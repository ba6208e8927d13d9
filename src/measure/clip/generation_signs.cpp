#include "measure/clip/generation_signs.h"

#include <fmt/format.h>

#include <string>

namespace guardband::measure {
namespace {

using quantity::Figure;

/// Frame lines by which one tape's being played through a comb filter of one line lowers colour at most.
constexpr double lowered_by_one_pass = 2;
/// Overshoot of a step whose band ends at once, %: Gibbs' 8.95, rounded up.
constexpr double overshoot_of_band_end = 9;
constexpr double sure = 2;  ///< standard uncertainties

bool is_known(const Figure* figure) { return figure != nullptr && figure->number().has_value(); }

bool exceeds(const Figure* figure, double threshold) {
    return is_known(figure) && *figure->number() - sure * figure->uncertainty().value_or(0) > threshold;
}

void append(std::string& text, const char* separator, const std::string& more) {
    text += (text.empty() ? "" : separator) + more;
}

}  // namespace

void GenerationSigns::finish(quantity::Figures& figures, std::vector<quantity::Event>&) { add_to(figures); }

void GenerationSigns::add_to(quantity::Figures& figures) {
    const Figure *lower = figures.find("chroma_lower"), *overshoot = figures.find("edge_overshoot");
    std::string signs, why;
    if (exceeds(lower, lowered_by_one_pass)) {
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
