#pragma once

#include <cstddef>
#include <optional>

#include "measure/clip/displacement_store.h"

namespace guardband::measure {

/// A number with its standard uncertainty, samples.
struct Estimated {
    double value = 0, error = 0;
};

/// The figures of a clip's displacements, samples; the contract says what they mean. Only lines from the third of a
/// field to before `end` count.
///
/// Without edges only the jitter is to be had, from the product of what the left and the right part of a line say.
///
/// Bias: the noise of the measurement adds to mean squares. Where both edges of a line are seen, the product of the two
/// displacements is taken in place of the square: what they err by has nothing in common, so nothing is added.
/// Elsewhere the stated variance is subtracted. Uncertainty: from the scatter of up to sixteen stretches of the clip,
/// and a third of what was
/// subtracted. The peak is that of the better half of the measurements of each line.
struct TimeBaseSums {
    std::size_t counted = 0, not_placed = 0;  ///< lines
    std::size_t steps = 0;
    double mean_px = 0;
    std::optional<Estimated> rms_px, peak_px, jitter_px, flagging_px;
};

/// @param end  first line of the fields that no longer counts
TimeBaseSums time_base_sums(const DisplacementStore& store, std::size_t end);

}  // namespace guardband::measure
