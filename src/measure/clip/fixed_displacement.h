#pragma once

#include <cstddef>
#include <optional>
#include <span>

#include "dsp/uneven_sines.h"
#include "measure/clip/displacement_series.h"
#include "measure/clip/time_base_sums.h"

namespace guardband::measure {

/// When the lines of a clip were scanned.
struct LineTiming {
    double frame_hz = 0, line_hz = 0;
    bool bottom_first = false;

    /// Of line 0 of a field, counted from frame 0.
    double field_s(std::int64_t frame, std::size_t parity) const {
        const bool second = (parity == 1) != bottom_first;
        return (static_cast<double>(frame) + (second ? 0.5 : 0)) / frame_hz;
    }
};

/// What of the displacement returns at the same line in every frame.
struct FixedDisplacement {
    std::optional<Estimated> fixed_px;  ///< RMS
    double alike_share = 0;             ///< of its square: what both fields of a frame have in common
    double moving_px = 0;               ///< RMS of the rest of the displacement
};

/// Method: the clip is cut into up to eight stretches, each with its mean pattern of both fields' lines; the product of
/// the patterns of two stretches, one by the left edge and one by the right, has no part in it of what moves, nor of
/// what either edge errs by. Uncertainty: from leaving out one stretch after another. What moves at a rate that is
/// known is taken out first, so that short stretches needn't average it away.
/// @param sines  in samples, at times from the first frame of the series on
FixedDisplacement fixed_displacement(const DisplacementSeries& series, std::size_t end, const LineTiming& timing,
                                     std::span<const dsp::Sine> sines);

}  // namespace guardband::measure
