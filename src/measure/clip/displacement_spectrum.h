#pragma once

#include <cstddef>
#include <vector>

#include "measure/clip/displacement_series.h"
#include "measure/clip/fixed_displacement.h"

namespace guardband::measure {

/// A steady motion of the lines.
struct LineMotion {
    double hz = 0, hz_error = 0;
    double amplitude_px = 0;
    int frame_harmonic = 0;  ///< of the frame rate, if it is locked to that; else 0
};

/// How the lines move in time.
struct DisplacementSpectrum {
    std::vector<LineMotion> motions;  ///< strongest first
    std::vector<dsp::Sine> sines;  ///< those that are not locked to the frame, samples; times from the first frame on
    double seconds = 0;            ///< that this rests on
};

/// Shorter series have no spectrum.
inline constexpr double least_spectrum_s = 0.5;

/// Method: sines by least squares at the times of the lines that could be placed, so that field blanking and lost lines
/// are gaps and no values; the strongest is taken out first. Up to 400 Hz over the whole series, on means of eight
/// lines; from there to half the line rate over 32 frames, line by line. The chance that noise gives a sine is 0.1 % a
/// clip for either. What is locked to the frame has many harmonics and is taken out as one pattern; its strongest
/// harmonic stands for it, once for the pattern that both fields share and once for that by which they differ. Where
/// both edges of the lines are seen, a motion that the two don't show alike is none.
///
/// Bias of an amplitude: below 3 % and 2 ns. What is locked to the frame and what lies a quarter of a cycle in the
/// whole series off can't be told apart. Needs half a second of lines placed by edges.
/// @param end       first line of the fields that no longer counts
/// @param least_px  amplitude below which nothing is claimed
DisplacementSpectrum displacement_spectrum(const DisplacementSeries& series, std::size_t end, const LineTiming& timing,
                                           double least_px);

}  // namespace guardband::measure
