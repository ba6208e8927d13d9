#include <numbers>

#include "rows/spectra.h"

namespace guardband::rows {
namespace {

void windowed_spectrum(const float* in, const float* window, std::complex<float>* out) {
    constexpr double turn = 2 * std::numbers::pi / spectrum_samples;
    for (std::size_t k = 0; k < spectrum_bins; ++k) {
        std::complex<double> sum;
        for (std::size_t n = 0; n < spectrum_samples; ++n)
            sum += std::polar(static_cast<double>(window[n] * in[n]), -turn * static_cast<double>(k * n));
        out[k] = std::complex<float>(sum);
    }
}

}  // namespace

WindowedSpectrum plain_spectrum() { return windowed_spectrum; }

}  // namespace guardband::rows
