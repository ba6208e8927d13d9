#pragma once

#include <array>
#include <optional>

#include "calc/time_code.h"
#include "measure/waveform/row_bits.h"

namespace guardband::measure {

/// A line of vertical-interval time code.
struct IntervalTimeCode {
    bool right = false;  ///< check bits and decimal digits are right: `code` may be relied on
    calc::TimeCode code;
    bool second_field = false;  ///< as its field mark says
};

/// Reads a line of vertical-interval time code: 90 bits at 115 to a line, ± 2 %, of which nine pairs are one and
/// nought, and eight check bits (SMPTE ST 12-1, from memory).
///
/// Method: the start of the code and the length of its bits are where the nine pairs stand out most; bits are means
/// over the middle three fifths of their time, against half way between the pairs' ones and noughts.
/// False alarms: no line of noise in 12 000 had all pairs; of those that do, one in 256 passes the check bits.
/// @param counted  frames that the system's time code counts in a second, 25 or 30
/// @returns nothing for a line whose pairs are not all there
std::optional<IntervalTimeCode> read_interval_time_code(const DataRow& row, const RowMeans& means, int counted);

}  // namespace guardband::measure
