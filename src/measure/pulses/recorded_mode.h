#pragma once

#include <string>
#include <vector>

#include "table/table.h"

namespace guardband::measure {

/// What the rate of control-track pulses says of a recording, when the machine's mode of playing is known.
struct RecordedMode {
    std::string address;              ///< empty if no mode of the format fits
    double speed_ratio = 0;           ///< played over recorded; 0 if the table does not give a control-track rate
    double tape_speed_mm_s = 0;       ///< of the recording
    double relative_uncertainty = 0;  ///< standard, of speed and ratio: rate and tolerance of the machine's speed
    std::vector<std::string> others;  ///< modes that fit within the same reach, the nearest first
    std::string reason;               ///< why there is no address or no ratio
};

/// Finds the mode of recording among those of the playing machine's format, on all scanning standards: recorded pulses
/// lie v/f apart on the tape, so that the rate seen is f · v_played / v_recorded. A mode fits within 4 %: what speeds
/// of machines and shrunken tape may differ by. Can't tell modes of one speed and rate apart, nor see anything if the
/// machine's servo holds the pulses themselves at their own rate.
RecordedMode recorded_mode(const table::TapeFormat& format, const table::Mode& playing, double rate_hz,
                           double rate_uncertainty_hz);

}  // namespace guardband::measure
