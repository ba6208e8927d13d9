#pragma once

#include <vector>

#include "measure/clip_sound/steady_band.h"

namespace guardband::measure {

/// A steady tone in a band.
struct SteadyLine {
    double hz = 0, uncertainty_hz = 0;
    double amplitude = 0;  ///< peak, of full scale
    double level_uncertainty_db = 0;
    double above_noise = 0;  ///< power of its greatest bin over the noise's
    double coherence = 0;    ///< 0 … 1, how steady its phase runs on
};

/// Lines that stand out of the noise of their neighbourhood by more than chance would have it anywhere in the band,
/// strongest first, thirty at most. The frequency is that of the line's centre of gravity, and where its phase is
/// steady that by which the phase advances from piece to piece.
std::vector<SteadyLine> steady_lines(const BandSpectrum& band);

/// The place of a tone that wavers, as a centre of gravity of what stands out about the greatest heap.
/// @param width_hz  of the heap   @returns a line without power if there is none
SteadyLine wavering_line(const BandSpectrum& band, double width_hz);

}  // namespace guardband::measure
