#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace guardband::dsp {

/// Hann's window for `length` samples: w[n] = sin²(π (n + ½) / N). Symmetric, never 0 at a sample; side lobes from −31
/// dB, falling by 18 dB per octave.
std::vector<float> hann(std::size_t length);

/// Mean of the window: by what a line's height in the spectrum is scaled.
double coherent_gain(std::span<const float> window);

/// Equivalent noise bandwidth in bins: N Σ w² / (Σ w)². 1 for no window, 1.5 for Hann's.
double noise_bandwidth_bins(std::span<const float> window);

}  // namespace guardband::dsp
