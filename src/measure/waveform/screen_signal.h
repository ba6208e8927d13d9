#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "measure/waveform/row_bits.h"

namespace guardband::measure {

/// A line of wide-screen signalling.
struct ScreenSignal {
    int word = 0;        ///< 14 bits: the first sent lowest with 625 lines, highest with 525
    bool right = false;  ///< its check holds: a parity bit over the aspect ratio (625), six bits (525)
};

/// Fourteen bits as the library sliced them from line 23 (EN 300 294, from memory).
ScreenSignal screen_signal_625(std::uint8_t low, std::uint8_t high);

/// Reads the signal of lines 20 and 283: a one, a nought, fourteen bits and six that check them by x⁶ + x + 1, each an
/// eighth of the subcarrier long (IEC 61880, from memory). libzvbi does not read it. False alarms: of lines of noise at
/// most one in 1500, and one in 64 of those passes the check.
/// @returns nothing for a line whose bits are not all clearly one or nought
std::optional<ScreenSignal> read_screen_signal_525(const DataRow& row, const RowMeans& means);

/// The aspect ratio and, where told, film or camera: `16:9, letterbox in the middle; film`.
std::string screen_words(int word, bool lines_525);

}  // namespace guardband::measure
