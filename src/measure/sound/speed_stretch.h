#pragma once

#include <vector>

#include "measure/sound/demodulation.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// The part of a series of speeds that a meter can read.
struct SpeedStretch {
    std::vector<float> deviation;
    double start_s = 0, rate_hz = 0;
    std::vector<quantity::Event> events;  ///< dropouts that were bridged, and where the tone was away for longer

    double seconds() const { return static_cast<double>(deviation.size()) / rate_hz; }
};

/// The longest stretch in which the tone stays. Where its level falls below a third of the median, or its frequency
/// leaves ±20 %, the values are worthless: up to 0.3 s of them are bridged by a straight line, longer ones end a
/// stretch. Empty if the tone is never there.
SpeedStretch longest_stretch(const SpeedSeries& series);

}  // namespace guardband::measure
