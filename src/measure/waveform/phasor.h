#pragma once

#include <complex>
#include <cstdint>
#include <span>
#include <vector>

namespace guardband::measure {

/// Reads amplitude and phase of an oscillation in a short piece of a stream: the Fourier transform at one frequency
/// under Hann's window. A sine A cos(2πft + φ), t counted from the stream's start, gives A/2 e^(iφ). A steady level is
/// to be taken off first; what is left of it is damped by the window.
class PhasorReader {
public:
    /// @param cycles_per_sample  f   @param length  of the piece, samples, ≥ 4
    PhasorReader(double cycles_per_sample, int length);

    int length() const { return static_cast<int>(taps_.size()); }
    double cycles_per_sample() const { return cycles_per_sample_; }
    /// @param piece  `length()` samples   @param place  of the first, in the stream   @param level  to be taken off
    std::complex<double> read(std::span<const float> piece, std::int64_t place, float level) const;

private:
    double cycles_per_sample_;
    std::vector<std::complex<float>> taps_;
};

/// e^(2πi c place) for c cycles per sample; exact to 1e-6 of a turn for places up to 1e9 samples and more.
std::complex<double> turn_at(double cycles_per_sample, double place);

}  // namespace guardband::measure
