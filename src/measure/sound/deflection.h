#pragma once

#include <span>

#include "measure/sound/detector.h"
#include "measure/sound/weighting.h"

namespace guardband::measure {

/// What a meter reads of a series of speeds.
struct DeflectionReading {
    double value = 0;        ///< ±, as a ratio
    double uncertainty = 0;  ///< from the scatter of the reading over time
};

/// Reads a series of relative speeds in one band, as a meter would that has watched the tape for some time before: the
/// series is mirrored about a turn of its wow in the first seconds to settle the filter, and up to its first ten
/// seconds are not read where five are left to read. The network is one of least delay with exactly the response of
/// `flutter_response`; its output is taken at four times the series' rate, so that a detector meets the peaks between
/// values too.
///
/// Bias: below 0.7 % for a sine from 0.2 to 100 Hz and deflections of 0.02 to 3 % (2.3 % for wow read unweighted).
/// Scatter: that of the signal. Needs 5 s; of wow below 0.5 Hz a reading is good to 3 % from 15 s on.
/// @param deviation  relative, its mean and straight trend taken out   @param rate_hz  above 800
DeflectionReading read_deflection(std::span<const float> deviation, double rate_hz, FlutterBand band,
                                  Detector detector);

}  // namespace guardband::measure
