#pragma once

#include <vector>

#include "measure/waveform/colour_system.h"

namespace guardband::measure {

/// The frequency of a burst near half of the sampling rate, where it and its image run into each other in a short
/// piece: of those around `near_hz` the one whose level, cosine and sine explain most of the power of all back porches.
/// Good to some hundred hertz without noise.
/// @param from_us, to_us  after the leading edge of sync: where every burst stands   @param reach_hz  to either side
double burst_frequency(const std::vector<BackPorch>& porches, double near_hz, double reach_hz, double rate_hz,
                       double from_us, double to_us);

}  // namespace guardband::measure
