#include "measure/clip/line_chain.h"

#include <algorithm>

namespace guardband::measure {

void LineChain::solve(std::span<const LineEvidence> places, std::span<const LineEvidence> steps, PlacedLines& out) {
    const std::size_t count = places.size();
    out.place_px.resize(count), out.variance.resize(count), out.step_variance.resize(count);
    down_.resize(count), side_.resize(count);
    const auto step_weight = [&](std::size_t i) {
        return i > 0 && i < count ? static_cast<double>(steps[i].weight) : 0;
    };
    constexpr double least = 1e-9;  // keeps lines without any evidence solvable
    for (std::size_t i = 0; i < count; ++i) {
        const double above = step_weight(i), below = step_weight(i + 1);
        down_[i] = static_cast<double>(places[i].weight) + above + below + least;
        side_[i] = static_cast<double>(places[i].weight) * static_cast<double>(places[i].place_px);
        if (above > 0) side_[i] += above * static_cast<double>(steps[i].place_px);
        if (below > 0) side_[i] -= below * static_cast<double>(steps[i + 1].place_px);
        if (i == 0) continue;
        const double factor = above / down_[i - 1];
        down_[i] -= factor * above;
        side_[i] += factor * side_[i - 1];
    }
    double place = 0, variance = 0;
    for (std::size_t i = count; i-- > 0;) {
        // Line i given line i + 1: place (side + weight · place below) / down; its variance adds what line i + 1
        // leaves.
        const double pull = step_weight(i + 1) / down_[i];
        const double below = variance;
        place = side_[i] / down_[i] + pull * place;
        variance = 1 / down_[i] + pull * pull * variance;
        out.place_px[i] = static_cast<float>(place);
        out.variance[i] = static_cast<float>(variance);
        if (i + 1 < count) out.step_variance[i + 1] = static_cast<float>(variance + below - 2 * pull * below);
    }
    if (count > 0) out.step_variance[0] = 0;
}

}  // namespace guardband::measure
