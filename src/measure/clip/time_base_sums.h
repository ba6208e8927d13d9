#pragma once

#include <cstddef>
#include <optional>

#include "measure/clip/displacement_store.h"
#include "measure/clip/mean_square.h"

namespace guardband::measure {

/// The figures of a clip's displacements, samples; the contract says what they mean. Only lines from the third of a
/// field to before `end` count.
///
/// Without edges only what changes from field to field is to be had (`LineWander`); the jitter is by `StepChanges`.
///
/// For the jitter, a step that one edge alone shows counts if it is like those that the same line makes in other
/// fields: within eight times their spread and three samples.
///
/// Bias: the noise of the measurement adds to mean squares; `TwiceOrOnce` says how that is avoided, `SceneAgreement`
/// what is done where the picture errs alike in many fields. Uncertainty: from the scatter of up to sixteen stretches
/// of the clip, and by `error_of_products`. The peak is that of the better half of the measurements of each line, less
/// what errors make it larger: as much as the RMS of these measurements is above that without errors, or as their tail
/// adds in squares, whichever is more.
struct TimeBaseSums {
    std::size_t counted = 0, not_placed = 0;  ///< lines
    std::size_t with_both_edges = 0;          ///< lines that show both, placed or not
    std::size_t steps = 0;
    double mean_px = 0;
    std::optional<Estimated> rms_px, peak_px, jitter_px, flagging_px;
    /// RMS of what of the displacement has nothing in common from line to line: without slopes, which a jitter has in
    /// it.
    double rough_px = 0;
    /// Without edges: RMS of what changes from field to field, and the share of lines that it comes from.
    std::optional<Estimated> varying_px;
    double varying_share = 0;
    /// Without edges: RMS, as a jitter has it, of the steps from line to line that stay for some frames, both fields'
    /// lines above the head switch; outlines that slant all the same way are in it.
    std::optional<double> lasting_px;
};

/// @param end  first line of the fields that no longer counts
TimeBaseSums time_base_sums(const DisplacementStore& store, std::size_t end);

}  // namespace guardband::measure
