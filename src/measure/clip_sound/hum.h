#pragma once

#include <optional>
#include <span>
#include <vector>

#include "measure/clip_sound/steady_lines.h"
#include "table/table.h"

namespace guardband::measure {

/// Mains hum: a frequency and what stands at its multiples.
struct Hum {
    double hz = 0, uncertainty_hz = 0;
    double nominal_hz = 0;  ///< the nearest of the mains'
    double amplitude = 0;   ///< of a sine of the same power as all its harmonics, of full scale
    double level_uncertainty_db = 0;
    int harmonics = 0;  ///< that were found
};

/// The hum that explains the most of these lines; nothing if none does. A single line counts as hum at its own
/// frequency or its half, and only if its phase is steady.
std::optional<Hum> find_hum(std::span<const SteadyLine> lines, std::span<const double> mains_hz);

}  // namespace guardband::measure
