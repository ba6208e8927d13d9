#include "measure/waveform/phasor.h"

#include <cmath>
#include <numbers>

#include "dsp/window.h"

namespace guardband::measure {

std::complex<double> turn_at(double cycles_per_sample, double place) {
    const double whole = std::floor(place);
    const double cycles = std::fmod(cycles_per_sample * whole, 1.0) + cycles_per_sample * (place - whole);
    return std::polar(1.0, 2 * std::numbers::pi * cycles);
}

PhasorReader::PhasorReader(double cycles_per_sample, int length) : cycles_per_sample_(cycles_per_sample) {
    const std::vector<float> window = dsp::hann(static_cast<std::size_t>(length));
    double sum = 0;
    for (const float w : window) sum += w;
    for (int k = 0; k < length; ++k) {
        const std::complex<double> tap =
            double{window[static_cast<std::size_t>(k)]} / sum * std::conj(turn_at(cycles_per_sample, k));
        taps_.emplace_back(static_cast<float>(tap.real()), static_cast<float>(tap.imag()));
    }
}

std::complex<double> PhasorReader::read(std::span<const float> piece, std::int64_t place, float level) const {
    float real = 0, imaginary = 0;
    for (std::size_t k = 0; k < taps_.size(); ++k) {
        real += taps_[k].real() * (piece[k] - level);
        imaginary += taps_[k].imag() * (piece[k] - level);
    }
    return std::complex<double>(real, imaginary) * std::conj(turn_at(cycles_per_sample_, static_cast<double>(place)));
}

}  // namespace guardband::measure
