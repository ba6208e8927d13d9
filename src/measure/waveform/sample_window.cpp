#include "measure/waveform/sample_window.h"

#include <algorithm>

namespace guardband::measure {

void SampleWindow::append(std::span<const float> samples, float sign) {
    const std::size_t before = samples_.size();
    samples_.resize(before + samples.size());
    std::ranges::transform(samples, samples_.begin() + static_cast<std::ptrdiff_t>(before),
                           [sign](float sample) { return sign * sample; });
}

void SampleWindow::drop_before(std::int64_t place) {
    const std::int64_t dropped = std::clamp<std::int64_t>(place - first_, 0, end() - first_);
    first_ += dropped;
    skipped_ += dropped;
    // Moving what is left costs as much as was dropped since the last time at the most.
    if (skipped_ < static_cast<std::int64_t>(samples_.size()) / 2) return;
    samples_.erase(samples_.begin(), samples_.begin() + skipped_);
    skipped_ = 0;
}

}  // namespace guardband::measure
