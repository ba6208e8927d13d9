#pragma once

#include <span>
#include <vector>

#include "measure/waveform/sample_window.h"

namespace guardband::measure {

/// The low-pass before which edges of sync are timed: a Gaussian, which neither rings nor overshoots, so that the
/// half-amplitude point of an edge that is symmetrical stays where it was, to a small part of a sample. It is close to
/// the filter matched to the slope of a sync edge: noise beyond the slope's own bandwidth does not count. A subcarrier
/// of 3.58 MHz is damped to 1.3 %, one of 4.43 MHz to 0.12 %.
class SyncFilter {
public:
    /// @param spread_samples  standard deviation of the Gaussian, samples
    explicit SyncFilter(double spread_samples);

    int radius() const { return radius_; }
    /// Samples beyond the place of a result that are read.
    int reach() const { return static_cast<int>(taps_.size()) - radius_; }

    /// Every `step`-th filtered sample from a place on. @returns false if the window does not hold what that takes
    bool filter(const SampleWindow& window, std::int64_t from, int step, std::span<float> out) const;
    /// The same of samples in memory: result i lies at sample `radius() + i step`. @returns how many there are
    std::vector<float> filter_all(std::span<const float> samples, int step) const;

private:
    int radius_;
    std::vector<float> taps_;
};

/// The Gaussian's standard deviation, µs of a system whose line sync is 4.7 µs wide.
inline constexpr double sync_filter_us = 0.13;

}  // namespace guardband::measure
