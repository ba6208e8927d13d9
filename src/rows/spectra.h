#pragma once

#include <complex>
#include <cstddef>
#include <string>
#include <vector>

namespace guardband::rows {

/// Length of the pieces that are transformed, and frequencies that the transform of a real one has: 0 … half the
/// sampling rate.
inline constexpr std::size_t spectrum_samples = 64, spectrum_bins = spectrum_samples / 2 + 1;

/// Discrete Fourier transform of `spectrum_samples` real samples under a window:
/// out[k] = Σ window[n] in[n] e^(−2πi k n / 64) for k < `spectrum_bins`. Single precision.
using WindowedSpectrum = void (*)(const float* in, const float* window, std::complex<float>* out);

/// Written for the reader; the truth that the fast version is tested against.
WindowedSpectrum plain_spectrum();

/// Chosen at the first call for the processor that runs it. Sums in another order: differs by rounding.
WindowedSpectrum fast_spectrum();

struct NamedSpectrum {
    std::string target;  ///< kind of processor, e.g. `AVX2`
    WindowedSpectrum spectrum;
};

/// The fast versions that this processor can run, for tests: not only the one that would be chosen.
std::vector<NamedSpectrum> fast_spectra_of_each_target();

}  // namespace guardband::rows
