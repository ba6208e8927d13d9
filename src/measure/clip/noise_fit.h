#pragma once

#include <optional>
#include <span>
#include <vector>

#include "measure/clip/block_noise.h"

namespace guardband::measure {

/// One block's part in a fit.
struct NoisePoint {
    float variance = 0;  ///< squared 8-bit codes
    float detail = 0;    ///< see `BlockNoise`
};

/// The noise that many blocks have in common.
struct NoiseFit {
    double variance = 0;         ///< squared 8-bit codes
    double error = 0;            ///< one standard uncertainty of it
    double at_least_detail = 0;  ///< what the blocks of least detail show, before the fit
};

/// What is left of detail that could not be taken out grows with the detail; noise does not.
///
/// Method: blocks are sorted by detail into up to ten groups; of each the lower middle (the 0.4 quantile, set right for
/// the scatter of single blocks) stands for those whose motion was found. A line over the detail, whose slope is not
/// negative, is fitted by relative least squares; groups well above it are left out. Where it meets no detail at all
/// lies the noise. Nothing if there are fewer than 12 blocks.
/// @param points  reordered
std::optional<NoiseFit> fit_noise(std::vector<NoisePoint>& points);

}  // namespace guardband::measure
