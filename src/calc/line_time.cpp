#include "calc/line_time.h"

namespace guardband::calc {

std::optional<double> units_per_second(const LineClocks& clocks, quantity::Dimension dimension) {
    switch (dimension) {
        case quantity::Dimension::Time:
            return 1;
        case quantity::Dimension::Samples:
            return clocks.sampling_hz;
        case quantity::Dimension::Lines:
            return clocks.line_hz;
        case quantity::Dimension::Angle:
            return clocks.subcarrier_hz ? std::optional(360 * *clocks.subcarrier_hz) : std::nullopt;
        case quantity::Dimension::Frames:
            return clocks.frames_hz;
        default:
            return std::nullopt;
    }
}

bool counts_time(quantity::Dimension dimension) { return units_per_second({1, 1, 1, 1}, dimension).has_value(); }

}  // namespace guardband::calc
