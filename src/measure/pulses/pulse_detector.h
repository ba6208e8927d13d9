#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "measure/pulses/level_sketch.h"

namespace guardband::measure {

/// Which side of a pulse is timed.
enum class Edge { Rising, Falling };

/// Times the pulses of a signal to a small part of a sample. Two levels: where the line between the samples crosses the
/// middle of the swing, once the signal has gone from a fifth of the swing below to a fifth above it. Bumps: the middle
/// between both crossings of half of the bump's height; one counts when it has fallen back to a quarter. Samples are
/// averaged over a three-hundredth of a period first. Bias: a bump that leans shifts all times alike, which no figure
/// sees. Scatter: noise over the slope of the edge.
class PulseDetector {
public:
    /// @param sketch  must outlive the detector
    PulseDetector(const LevelSketch& sketch, Edge edge, double sample_rate_hz);

    void see(std::span<const float> samples);
    /// Times of the pulses so far, s from the start.
    const std::vector<double>& times() const { return times_; }

private:
    void see_one(double value);
    void two_levels(double value, const BlockLevels& levels);
    void bump(double value, const BlockLevels& levels);
    /// When the line from the last value to this one crosses a level, in samples.
    double crossing(double value, double level) const;

    const LevelSketch& sketch_;
    double sign_, sample_rate_hz_;
    std::vector<float> ring_;  ///< the samples that are averaged
    std::size_t ring_at_ = 0, seen_ = 0;
    double sum_ = 0;
    double last_ = 0;       ///< averaged value before this one
    std::int64_t at_ = -1;  ///< number of this averaged value
    bool armed_ = false, has_last_ = false;
    double crossed_ = -1, started_ = -1, ended_ = -1;
    std::vector<double> times_;
};

}  // namespace guardband::measure
