#pragma once

#include <optional>
#include <span>
#include <vector>

#include "measure/waveform/line_clock.h"

namespace guardband::measure {

/// The part of a line that data may stand on, 27 samples to a microsecond of the system's nominal line whatever the
/// recording's rate and speed. Levels are above blanking, in shares of `high`.
struct DataRow {
    static constexpr double rate_hz = 27e6;
    static constexpr int first_sample = 230;  ///< after the middle of sync's leading edge: past the burst
    static constexpr int length = 1478;       ///< to 63.2 µs, before the next sync

    bool second_field = false;  ///< of the two, the one whose field sync starts half way between lines
    int in_field = 0;           ///< lines since the start of field sync
    double line_us = 0;         ///< nominal length of the line
    float high = 0;             ///< the level that a tenth of the row lies above, in depths of sync
    std::span<const float> levels;

    /// Place of a time after sync, in samples of the row.
    static double place(double us) { return us * rate_hz / 1e6 - first_sample; }
};

/// Takes such rows from a recording.
///
/// Method: each sample of the row is read from the recording through a windowed sinc whose band ends at 6.2 MHz or 45 %
/// of the sampling rate, so that noise beyond the data's band stays out. The line's own sync gives its place and its
/// blanking level, lines nearby its length. A line whose highest tenth stays low carries no data and costs next to
/// nothing.
class DataRows {
public:
    /// @param line_us  of the system, nominal   @param depth  of sync, in the samples' own unit
    DataRows(double rate_hz, double line_us, float depth);

    /// @returns nothing for a line without data, or whose samples are not at hand; valid until the next call
    std::optional<DataRow> read(const VideoLine& line, const SampleWindow& window);

private:
    double line_us_;
    float depth_;
    int taps_;
    std::vector<float> kernel_;  ///< one set of taps for each fraction of a sample
    std::vector<float> scratch_, row_;
};

}  // namespace guardband::measure
