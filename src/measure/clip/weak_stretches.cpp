#include "measure/clip/weak_stretches.h"

#include <algorithm>

#include "measure/clip/head_switch.h"

namespace guardband::measure {
namespace {

/// Lines to either side whose weights are looked at.
constexpr std::size_t half = 6;
/// Mean weight below which a line lies in a weak stretch: 60 ns.
constexpr double weak_weight = 1.5;
constexpr float divisor = 20;

}  // namespace

void WeakStretches::lessen(std::vector<LineEvidence>& places) {
    sums_.resize(places.size() + 1);
    sums_[0] = 0;
    for (std::size_t i = 0; i < places.size(); ++i) sums_[i + 1] = sums_[i] + static_cast<double>(places[i].weight);
    weak_.clear();
    for (std::size_t i = 0; i + switch_zone < places.size(); ++i) {
        const std::size_t first = i > half ? i - half : 0, end = std::min(places.size(), i + half + 1);
        if (sums_[end] - sums_[first] < weak_weight * static_cast<double>(end - first)) weak_.push_back(i);
    }
    if (2 * weak_.size() > places.size()) return;
    for (const std::size_t i : weak_) places[i].weight /= divisor;
}

}  // namespace guardband::measure
