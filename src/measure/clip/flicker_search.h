#pragma once

#include <optional>

#include "measure/clip/light_spectra.h"
#include "measure/clip/power_map.h"

namespace guardband::measure {

/// A smaller depth is not reported as flicker: it can't be seen, and encoders that pump, or bright edges that alias
/// between lines, reach it.
inline constexpr double least_flicker_depth = 0.002;

/// A line in the spectrum that the whole picture shares: light goes as 1 + depth · cos(2π (cycles n + bands y) + phase)
/// at frame n (fractions for the second field) and height y below the top, in picture heights.
struct FlickerLine {
    double cycles_per_frame = 0;  ///< > 0; up to ½, or 1 if interlaced
    double cycles_uncertainty = 0;
    double bands = 0;  ///< per picture height; below 0 they roll downwards
    double bands_uncertainty = 0;
    double depth = 0;
    double depth_uncertainty = 0;
    double contrast = 0;         ///< power over that of the picture's own changes at nearby frequencies
    double share_explained = 0;  ///< of what the cells do at this frequency, by this one wave
};

struct FlickerSearch {
    std::optional<FlickerLine> line;
    Sensitivity sensitivity;
};

/// Looks for flicker in a stretch of a clip.
///
/// Method. The spectra of the cells' relative changes are added up over the picture, weighted by each cell's own
/// quietness, for waves of −4 to 4 bands per picture height: flicker adds up, changes of the picture do not. A wave
/// counts as flicker when (a) its power stands out from its neighbourhood in frequency, (b) it explains most of what
/// the cells do at that frequency and (c) it does not come from one or two moments. Frequency, bands and depth are
/// those of the wave that fits best, by least squares under a Hann window, which keeps other lines out. Of a family of
/// harmonics the fundamental is taken. Bias: none in frequency; depth up to 3 % low under strong motion. Scatter: as
/// the stated uncertainties, which follow from the contrast. Needs 2 cycles and 16 frames. Can't tell a screen from any
/// other light that varies over the whole picture.
FlickerSearch search_flicker(const FlickerSeries& series, const BrightnessGrid& grid, const FieldTiming& timing);

}  // namespace guardband::measure
