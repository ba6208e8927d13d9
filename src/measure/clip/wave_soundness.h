#pragma once

#include "measure/clip/light_spectra.h"

namespace guardband::measure {

/// How well a wave explains what the cells do at its frequency.
struct WaveSoundness {
    double explained = 0;  ///< share of the cells' power, less their noise, that is the wave; 1 if they all do the same
    double taking_part = 0;     ///< share of the cells in which something stands out at this frequency
    double explained_part = 0;  ///< share of those cells' power that is the wave
    double riding = 0;  ///< share of the time in which it moves along with the picture, as something painted on it does
    double swaying = 0;  ///< share of the camera's panning that goes to and fro at this frequency, or at a part of it
    double rest_contrast = 0;  ///< contrast that is left when the two of eight parts of time that add most are left out
    /// @param contrast  of the wave to noise in the sum of all cells
    bool is_flicker(double contrast) const;
};

/// Share of the time in which a wave moves along with the picture.
/// @param cycles  per frame  @param bands  per picture height  @param change  what the spectra were made of
double riding_with_picture(const LightSpectra& spectra, double cycles, double bands, const LightChange& change);

/// Share of the camera's panning, of its square, that goes to and fro at a frequency, or at a half or third of it.
double swaying_with_camera(const LightSpectra& spectra, double cycles, const LightChange& change);

}  // namespace guardband::measure
