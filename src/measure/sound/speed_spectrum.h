#pragma once

#include <span>
#include <vector>

namespace guardband::measure {

/// A line in the spectrum of a speed.
struct SpeedLine {
    double hz = 0;
    double depth = 0;           ///< peak value, relative
    double hz_uncertainty = 0;  ///< how far the peak may lie off
};

/// The spectrum of a speed.
struct SpeedSpectrum {
    std::vector<SpeedLine> lines;  ///< strongest first
    double noise_slope = 0;        ///< density of the noise over frequency, 1/√Hz per Hz: white noise on a tone has
                                   ///< a speed noise that rises with frequency
};

/// What stretch of the spectrum is searched.
struct SpectrumRange {
    double low_hz = 0.1, high_hz = 200;
    double noise_low_hz = 0, noise_high_hz = 0;  ///< where only noise is expected; equal: noise_slope is not sought
};

/// Finds the steady components of a speed: peaks of the power spectrum (Hann's window, stretches of up to a minute,
/// averaged) that stand more than fifteen times above the noise around them, and above what the window spreads from
/// stronger ones. Frequency and depth from the two highest bins, exact for a lone steady sine. Bias: below 1 % of a
/// component that stands 20 dB above the noise; a component whose rate wanders by more than a bin reads low. Resolves
/// components 4 bins apart: 0.07 Hz in a minute, 0.4 Hz in ten seconds. Lines below three bins are not looked for, nor
/// those below a hundredth of the strongest.
/// @param series  relative speed, its mean and trend taken out
SpeedSpectrum find_lines(std::span<const float> series, double rate_hz, const SpectrumRange& range);

}  // namespace guardband::measure
