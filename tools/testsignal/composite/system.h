#pragma once

#include <optional>
#include <string>

#include "quantity/rational.h"
#include "table/table.h"

namespace guardband::testsignal {

/// How a system carries colour.
enum class ColourKind {
    None,
    Quadrature,   ///< two axes on one subcarrier, both always of one sign (NTSC)
    Alternating,  ///< the same with the V axis turned over on every other line (PAL)
    Frequency,    ///< one colour difference per line, by turns, frequency-modulated (SECAM)
};

/// The figures that SECAM needs beyond those of all, Hz.
struct FrequencyColour {
    quantity::Rational red_hz, blue_hz;                                       ///< subcarriers at rest
    double red_deviation_hz = 0, blue_deviation_hz = 0;                       ///< per unit of D'R and D'B
    double red_up_hz = 0, red_down_hz = 0, blue_up_hz = 0, blue_down_hz = 0;  ///< at most
    double bell_hz = 0, corner_hz = 0;  ///< of the pre-emphasis of subcarrier and colour
    double rest_mv = 0;                 ///< peak to peak, at rest on a blue line
    double start_us = 0;                ///< of the subcarrier, after the sync edge
};

/// The figures of a TV system by which composite video is drawn: all from the table, in µs and mV (blanking is 0).
struct CompositeSystem {
    std::string scanning, colour;  ///< ids of the table; no colour: empty
    int lines = 0;
    quantity::Rational line_rate_hz;
    double line_us = 0;
    double front_porch_us = 0, sync_us = 0, picture_start_us = 0, blanking_rise_us = 0, sync_rise_us = 0;
    int equalising = 0, broad = 0;  ///< pulses; equalising ones on each side
    double equalising_us = 0, broad_us = 0;
    int first_broad = 0;    ///< half lines from the beginning of line 1 to the first broad pulse of field 1
    int blanked_lines = 0;  ///< per field
    double sync_mv = 0, black_mv = 0, white_mv = 0;
    ColourKind kind = ColourKind::None;
    std::optional<quantity::Rational> subcarrier_hz;
    double burst_start_us = 0, burst_cycles = 0, burst_mv = 0, burst_rise_us = 0, chroma_bandwidth_mhz = 0;
    int burst_blanking = 0;  ///< lines without burst a field, where the burst alternates
    FrequencyColour frequency;
    std::string burst_of;  ///< the system whose burst was taken because the table has none for this one; else empty
};

/// The figures of a colour system (`PAL-M`) or, in monochrome, of a scanning standard (`405/50`).
/// @throws quantity::InputError if the table has no such system, or not all that drawing needs
CompositeSystem composite_system(const table::Table& table, const std::string& name);

}  // namespace guardband::testsignal
