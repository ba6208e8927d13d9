#include "measure/clip/resting_edges.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

constexpr int fewest_frames = 8, most_frames = 50;
/// What the picture under the edge is taken to do, RMS 8-bit codes.
constexpr float nearly_flat = 3;
/// Beyond, something else than noise was changed.
constexpr float most_change_px = 0.7F;

}  // namespace

void RestingEdges::restart() { apart_ = {}; }

void RestingEdges::see(const EdgeRows& rows, int parity, const EdgeShape& shape, std::span<EdgeLine> lines) {
    auto& apart = apart_[static_cast<std::size_t>(parity)];
    apart.resize(lines.size());
    const EdgeFilter& filter = shape.foreseen_filter(nearly_flat);
    std::array<float, EdgeFilter::taps> window{};
    for (std::size_t y = 0; y < lines.size(); ++y)
        for (std::size_t side = 0; side < 2; ++side) {
            Apart& mean = apart[y][side];
            EdgeLine& line = lines[y];
            if (!line.rests[side]) {
                mean = {};
                continue;
            }
            float& place = line.edges[side]->place;
            const int first = static_cast<int>(place);
            rows.window(static_cast<int>(y), static_cast<int>(side), first, window.data());
            const float quiet = filter.step(window.data(), first, place).place;
            mean.frames = std::min(mean.frames + 1, most_frames);
            const float true_on_average = shape.averaged_filter(window.data()).step(window.data(), first, place).place;
            mean.px += (quiet - true_on_average - mean.px) / static_cast<float>(mean.frames);
            const float change = quiet - mean.px - place;
            if (mean.frames >= fewest_frames && std::abs(change) < most_change_px) place += change;
        }
}

}  // namespace guardband::measure
