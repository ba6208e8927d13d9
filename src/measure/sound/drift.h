#pragma once

#include <span>

namespace guardband::measure {

/// How a speed changes over a recording.
struct Drift {
    double mean = 0;              ///< of the relative speed, straight
    double mean_uncertainty = 0;  ///< standard, from the scatter of the blocks
    double change = 0;            ///< from start to end, relative; positive when it rises
    double change_uncertainty = 0;
};

/// Mean speed and drift. The drift is the median of the slopes between all pairs of means of overlapping blocks (Theil
/// and Sen), times the length: one stretch in four may be wild. A block takes a fifth of the length, a second at least,
/// under Hann's window. Bias: none; a wow with fewer than ten turns in the whole shows as drift and in its uncertainty.
/// Scatter: that of the block means.
/// @param deviation  at least 20 values   @throws DomainError for fewer
Drift find_drift(std::span<const float> deviation, double rate_hz);

/// The straight line through a speed that keeps wow out best, for taking it away before wow is read: least squares
/// under Hann's window, which is blind to a sine of more than two turns in the whole.
struct Trend {
    double mean = 0, change = 0;  ///< from start to end
};
Trend straight_trend(std::span<const float> deviation);

}  // namespace guardband::measure
