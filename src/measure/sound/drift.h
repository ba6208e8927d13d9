#pragma once

#include <span>

namespace guardband::measure {

/// How a speed changes over a recording.
struct Drift {
    double mean = 0;              ///< of the relative speed, straight
    double mean_uncertainty = 0;  ///< standard, from the scatter of second-long means
    double change = 0;            ///< from start to end, relative; positive when it rises
    double change_uncertainty = 0;
};

/// Mean speed and drift. The drift is the median of the slopes between all pairs of block means (Theil and Sen), times
/// the length: one stretch in four may be wild. Bias: none; a wow slower than the length shows as drift. Scatter: that
/// of the block means; a block takes a second or a fortieth of the length.
/// @param deviation  at least 20 values   @throws DomainError for fewer
Drift find_drift(std::span<const float> deviation, double rate_hz);

}  // namespace guardband::measure
