#pragma once

#include <complex>
#include <cstdint>
#include <string>
#include <vector>

#include "measure/waveform/line_clock.h"
#include "table/table.h"

namespace guardband::measure {

/// The back porch of one line, where the burst is.
struct BackPorch {
    std::int64_t number = 0, start = 0;  ///< of the line; place of the first sample in the stream
    double lead = 0;                     ///< of its sync
    std::vector<float> samples;          ///< less the level of blanking
};

/// Gathers the back porches of some lines of the picture.
class PorchCollector {
public:
    /// @param blanking_end  lines after the start of field sync that are left out
    PorchCollector(double rate_hz, int blanking_end) : rate_hz_(rate_hz), blanking_end_(blanking_end) {}
    void see_line(const VideoLine& line, const SampleWindow& window);
    const std::vector<BackPorch>& porches() const { return porches_; }

private:
    double rate_hz_;
    int blanking_end_;
    std::vector<BackPorch> porches_;
};

/// The colour system that back porches show.
struct ColourFinding {
    const table::Colour* colour = nullptr;  ///< nullptr: none, or none that is known
    std::string why;                        ///< what was found instead, if there is a subcarrier of no known system
    double subcarrier_hz = 0;               ///< by the sampling clock; 0: no burst. SECAM: the mean of the two
    bool swings = false;                    ///< the burst's phase swings from line to line
    bool has_burst() const { return subcarrier_hz > 0; }
};

/// Tells the colour system from the burst: a subcarrier of two frequencies by turns is SECAM's; of the others PAL's
/// swing by 90° from line to line and NTSC's don't, and the frequency tells which of them it is. The frequency is had
/// to some hundred hertz from the turn of the phase within the bursts, and from there exactly from the turn from line
/// to line.
/// @param line_hz  measured   @param depth  of sync, in the samples' unit
ColourFinding find_colour(const std::vector<BackPorch>& porches, const table::Table& table,
                          const table::Scanning& scanning, double rate_hz, double line_hz, double depth);

/// Times after the leading edge of line sync between which every system of the table that has a burst shows it, µs.
inline constexpr double burst_from_us = 6.0, burst_to_us = 7.2;
/// Where SECAM's subcarrier has settled, µs.
inline constexpr double rest_from_us = 7.2, rest_to_us = 9.4;

}  // namespace guardband::measure
