#include "measure/waveform/sync_reader.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

constexpr double nominal_width_us = 4.7;  ///< that times are scaled to
constexpr double step_us = 0.25;          ///< between crudely filtered values
constexpr double block_lines = 1.1;
constexpr double kept_lines = 4;  ///< before the place that is sliced next
constexpr float hysteresis_share = 0.15F;
constexpr float depth_gain = 0.02F;
constexpr std::size_t most_at_once = 1 << 14;

}  // namespace

double scaled_us(const SyncShape& shape, double rate_hz) {
    return std::min(shape.width_samples / nominal_width_us, 1e-6 * rate_hz);
}

SyncReader::SyncReader(const SyncShape& shape, double rate_hz, LineSink& sink)
    : shape_(shape),
      sign_(shape.inverted ? -1.0F : 1.0F),
      scaled_us_(scaled_us(shape, rate_hz)),
      step_(std::max(1, static_cast<int>(step_us * scaled_us_))),
      filter_(sync_filter_us * scaled_us_),
      slicer_(static_cast<std::size_t>(block_lines * shape.line_samples / step_),
              {shape.rise, hysteresis_share * shape.depth}),
      clock_(shape, sink),
      first_(filter_.radius()),
      next_(first_),
      depth_(shape.depth) {}

void SyncReader::see(std::span<const float> samples) {
    window_.append(samples, sign_);
    slice_new();
}

void SyncReader::slice_new() {
    while (true) {
        const std::int64_t ready = window_.end() - filter_.reach() - next_;
        if (ready < step_) return;
        series_.resize(std::min(most_at_once, static_cast<std::size_t>(ready / step_)));
        if (!filter_.filter(window_, next_, step_, series_)) return;
        next_ += static_cast<std::int64_t>(series_.size()) * step_;
        slicer_.see(series_, pulses_);
        time_pulses();
        const double held_back = 4 * block_lines * shape_.line_samples + kept_lines * shape_.line_samples;
        window_.drop_before(next_ - static_cast<std::int64_t>(held_back));
    }
}

void SyncReader::finish() {
    slicer_.finish(pulses_);
    time_pulses();
}

void SyncReader::time_pulses() {
    for (const CrudePulse& crude : pulses_) {
        const double start = static_cast<double>(first_) + crude.start * step_;
        const double end = static_cast<double>(first_) + crude.end * step_;
        if (end - start > 0.6 * shape_.line_samples || end - start < 0.2 * shape_.width_samples) continue;
        const auto pulse = timed_pulse(window_, filter_, start, end, scaled_us_, scratch_);
        if (!pulse) continue;
        follow_depth(*pulse);
        clock_.see(*pulse, window_);
    }
    pulses_.clear();
}

/// A recording's level may change on the way; the slicing level goes with it.
void SyncReader::follow_depth(const SyncPulse& pulse) {
    const float depth = std::min(pulse.front, pulse.back) - pulse.tip;
    if (depth < 0.3F * depth_ || depth > 3 * depth_) return;
    depth_ += depth_gain * (depth - depth_);
    slicer_.set_level({shape_.rise + (depth_ - shape_.depth) / 2, hysteresis_share * depth_});
}

}  // namespace guardband::measure
