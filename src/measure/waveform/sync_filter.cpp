#include "measure/waveform/sync_filter.h"

#include <algorithm>
#include <cmath>

#include "rows/filters.h"

namespace guardband::measure {
namespace {

constexpr double reach_in_spreads = 4;  ///< the Gaussian is a 3000th there

}  // namespace

SyncFilter::SyncFilter(double spread_samples)
    : radius_(std::max(1, static_cast<int>(std::ceil(reach_in_spreads * spread_samples)))) {
    double sum = 0;
    std::vector<double> shape;
    for (int k = -radius_; k <= radius_; ++k) {
        shape.push_back(std::exp(-0.5 * (k / spread_samples) * (k / spread_samples)));
        sum += shape.back();
    }
    for (const double tap : shape) taps_.push_back(static_cast<float>(tap / sum));
    while (taps_.size() % rows::filter_tap_group != 0) taps_.push_back(0);
}

bool SyncFilter::filter(const SampleWindow& window, std::int64_t from, int step, std::span<float> out) const {
    const auto outputs = static_cast<int>(out.size());
    if (outputs == 0) return true;
    const std::int64_t first = from - radius_;
    const std::int64_t count = static_cast<std::int64_t>(outputs - 1) * step + static_cast<std::int64_t>(taps_.size());
    if (!window.holds(first, first + count)) return false;
    rows::fast_filter()(window.at(first, count).data(), taps_.data(), static_cast<int>(taps_.size()), step, outputs,
                        out.data());
    return true;
}

std::vector<float> SyncFilter::filter_all(std::span<const float> samples, int step) const {
    if (samples.size() < taps_.size()) return {};
    const auto outputs = static_cast<int>((samples.size() - taps_.size()) / static_cast<std::size_t>(step)) + 1;
    std::vector<float> out(static_cast<std::size_t>(outputs));
    rows::fast_filter()(samples.data(), taps_.data(), static_cast<int>(taps_.size()), step, outputs, out.data());
    return out;
}

}  // namespace guardband::measure
