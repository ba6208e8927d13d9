#include "dsp/minimum_phase.h"

#include <algorithm>
#include <cmath>

#include "dsp/fft.h"
#include "quantity/errors.h"

namespace guardband::dsp {
namespace {

constexpr double least_ratio = 1e-6;  // of the greatest magnitude; keeps the logarithm finite

/// Even series of the logarithms of magnitudes, as its cosine series: the real cepstrum times N.
std::vector<float> cepstrum(std::span<const double> magnitude, const RealFft& fft) {
    const double floor = least_ratio * *std::ranges::max_element(magnitude);
    std::vector<std::complex<float>> logarithms;
    for (const double value : magnitude) logarithms.emplace_back(static_cast<float>(std::log(std::max(value, floor))));
    std::vector<float> series(fft.length());
    fft.inverse(logarithms, series);
    return series;
}

}  // namespace

std::vector<std::complex<float>> minimum_phase(std::span<const double> magnitude) {
    if (magnitude.size() < 3 || !(*std::ranges::max_element(magnitude) > 0))
        throw quantity::DomainError("a response needs three magnitudes or more, not all of them 0");
    const std::size_t length = 2 * (magnitude.size() - 1);
    const RealFft fft(length);
    std::vector<float> series = cepstrum(magnitude, fft);
    // Folding the cepstrum onto positive times makes the logarithm's imaginary part the phase of least delay.
    const auto scale = 1 / static_cast<float>(length);
    for (std::size_t n = 0; n < length; ++n) {
        const float fold = n == 0 || n == length / 2 ? 1.0F : n < length / 2 ? 2.0F : 0.0F;
        series[n] *= fold * scale;
    }
    std::vector<std::complex<float>> response(magnitude.size());
    fft.forward(series, response);
    for (std::size_t k = 0; k < response.size(); ++k)
        response[k] = std::polar(static_cast<float>(magnitude[k]), response[k].imag());
    return response;
}

}  // namespace guardband::dsp
