#pragma once

#include <optional>

#include "quantity/rational.h"
#include "quantity/unit.h"

namespace guardband::calc {

/// The clocks by which a stretch of a line can be counted; what is absent is not known or not asked for.
struct LineClocks {
    std::optional<double> line_hz;        ///< lines a second
    std::optional<double> sampling_hz;    ///< samples a second
    std::optional<double> subcarrier_hz;  ///< turns of 360° a second
    std::optional<double> frames_hz;      ///< frames a second
};

/// Units of a clock in one second: samples and frames as they are, lines of the raster, degrees of the subcarrier, and
/// 1 for seconds. Nothing if the clock is absent or the dimension is none of these.
std::optional<double> units_per_second(const LineClocks& clocks, quantity::Dimension dimension);

/// Whether a stretch of time can be counted in units of this dimension, given the clock.
bool counts_time(quantity::Dimension dimension);

}  // namespace guardband::calc
