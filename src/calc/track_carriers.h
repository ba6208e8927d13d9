#pragma once

#include <string>
#include <vector>

#include "calc/track_geometry.h"
#include "table/table.h"

namespace guardband::calc {

/// A frequency that a mode records along its tracks, and how long its waves are.
struct Carrier {
    std::string name;  ///< `luminance, sync tip`
    const table::Fact* fact = nullptr;
    bool is_sound = false;         ///< written and read by heads of their own
    bool is_colour_under = false;  ///< the heterodyned colour below the luminance
    Worked wavelength;             ///< µm, by the writing speed of the mode

    const std::string& key() const { return fact->key; }
    double frequency_mhz() const { return fact->in("MHz"); }
};

/// The carriers that the table gives of a mode: luminance at sync tip, blanking and white, colour-under, FM sound. None
/// of a digital recording.
std::vector<Carrier> carriers_of(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode);

/// Writing speed as it follows from drum and tape; where the table does not give these, the one that it prints.
Worked writing_speed_or_printed(const TrackFacts& facts, const table::TapeFormat& format, const table::Mode& mode);

}  // namespace guardband::calc
