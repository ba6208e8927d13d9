#include "measure/pulses/pulse_detector.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

constexpr double averages_per_period = 300;
constexpr double hysteresis = 0.2;                         ///< of the swing, to either side of its middle
constexpr double bump_share = 0.5, bump_end_share = 0.25;  ///< of a bump's height

}  // namespace

PulseDetector::PulseDetector(const LevelSketch& sketch, Edge edge, double sample_rate_hz)
    : sketch_(sketch), sign_(edge == Edge::Rising ? 1 : -1), sample_rate_hz_(sample_rate_hz) {
    const double length = sketch.crude_rate_hz > 0 ? sample_rate_hz / sketch.crude_rate_hz / averages_per_period : 1;
    ring_.resize(static_cast<std::size_t>(std::clamp(length, 1.0, 1e5)));
}

void PulseDetector::see(std::span<const float> samples) {
    for (const float sample : samples) {
        sum_ += static_cast<double>(sample) - static_cast<double>(ring_[ring_at_]);
        ring_[ring_at_] = sample;
        if (++ring_at_ == ring_.size()) {
            ring_at_ = 0;
            sum_ = 0;  // rounding must not pile up
            for (const float kept : ring_) sum_ += kept;
        }
        if (++seen_ >= ring_.size()) see_one(sum_ / static_cast<double>(ring_.size()));
    }
}

void PulseDetector::see_one(double value) {
    ++at_;
    const auto block = static_cast<std::size_t>(at_ / sketch_.block_samples);
    BlockLevels levels = sketch_.blocks[std::min(block, sketch_.blocks.size() - 1)];
    if (sign_ < 0) levels = {-levels.high, -levels.middle, -levels.low};
    const double signed_value = sign_ * value;
    if (has_last_) {
        if (sketch_.shape == PulseShape::Bumps)
            bump(signed_value, levels);
        else
            two_levels(signed_value, levels);
    }
    last_ = signed_value;
    has_last_ = true;
}

double PulseDetector::crossing(double value, double level) const {
    return static_cast<double>(at_ - 1) + (level - last_) / (value - last_);
}

void PulseDetector::two_levels(double value, const BlockLevels& levels) {
    const double middle = (static_cast<double>(levels.low) + static_cast<double>(levels.high)) / 2;
    const double reach = hysteresis * static_cast<double>(levels.swing());
    if (value < middle - reach) armed_ = true;
    if (last_ < middle && value >= middle) crossed_ = crossing(value, middle);
    if (!armed_ || value <= middle + reach || crossed_ < 0) return;
    const double delay = static_cast<double>(ring_.size() - 1) / 2;
    times_.push_back((crossed_ + delay) / sample_rate_hz_);
    armed_ = false;
}

void PulseDetector::bump(double value, const BlockLevels& levels) {
    const double height = static_cast<double>(levels.high) - static_cast<double>(levels.middle);
    const double half = levels.middle + bump_share * height;
    if (last_ < half && value >= half && started_ < 0) started_ = crossing(value, half);
    if (last_ >= half && value < half) ended_ = crossing(value, half);
    if (started_ < 0 || value >= levels.middle + bump_end_share * height) return;
    const double delay = static_cast<double>(ring_.size() - 1) / 2;
    if (ended_ > started_) times_.push_back(((started_ + ended_) / 2 + delay) / sample_rate_hz_);
    started_ = ended_ = -1;
}

}  // namespace guardband::measure
