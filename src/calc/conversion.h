#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "calc/levels.h"
#include "calc/working.h"
#include "table/table.h"

namespace guardband::calc {

/// A conversion as it is asked for: the words of the command line.
struct ConversionQuery {
    std::string value;          ///< `75`, `25.0±0.1`, `01:00:00;02`, `1:30:00`
    std::string from, to;       ///< units, the notations `timecode` and `h:mm:ss`, or two speeds: `24fps`, `33.35mm/s`
    std::string system;         ///< colour system or scanning standard; empty: none
    std::string sampling_rate;  ///< empty: that of the system's raster, or of its composite samples
    std::string frame_rate;     ///< empty: that of the system
    CapturedSetup setup = CapturedSetup::Removed;
    CodedSignal signal = CodedSignal::Luma;  ///< what codes and samples are of
    bool counts_without_drop = false;        ///< time code of 29.97 and 59.94
    bool ratio_of_powers = false;            ///< dB: 10 log of the ratio, not 20
};

/// The answer, and what goes with it.
struct Conversion {
    std::string given;  ///< what was asked, with its unit: `75 IRE`
    double value = 0;   ///< in `unit`; full precision
    std::string text;   ///< the answer as a notation, where it is none of a number and a unit: `01:00:00;02`
    std::string unit;   ///< `mV`, `timecode`
    std::optional<double> half_width;  ///< from what was given and the table's tolerances, all at their worst
    std::string basis;                 ///< by what: `NTSC, set-up removed`
    std::vector<std::string> remarks;  ///< whole sentences
    std::vector<std::pair<std::string, double>> also;  ///< further numbers by key, for programs: `pitch_cents`
    bool uses_table = false;
    Working working;
};

/// Converts within a dimension; between levels (IRE, mV, code); between lengths of time, samples, lines, degrees of the
/// subcarrier, frames and time code; between TVL and MHz; between dB and ratio; and a running time from one speed to
/// another.
/// @throws InputError naming the part at fault and the units there are
Conversion conversion(const table::Table& table, const ConversionQuery& query);

}  // namespace guardband::calc
