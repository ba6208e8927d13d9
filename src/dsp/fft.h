#pragma once

#include <complex>
#include <cstddef>
#include <memory>
#include <span>

namespace guardband::dsp {

/// The next even length from `length` up that transforms fast: factors 2, 3 and 5 only.
std::size_t fast_length(std::size_t length);

/// Discrete Fourier transform of a complex series of fixed length, single precision:
/// X[k] = Σ x[n] e^(−2πi k n / N). Neither direction divides by N. Rounding: about 1e-7 of the
/// largest output for lengths of small factors; a large prime factor p makes it sqrt(p) worse and the time p times
/// longer.
class ComplexFft {
public:
    /// @param length  N, > 0; any, fast when it is a product of small primes
    /// @throws DomainError if `length` is 0 or does not fit an int
    explicit ComplexFft(std::size_t length);
    ~ComplexFft();
    ComplexFft(ComplexFft&&) noexcept;
    ComplexFft& operator=(ComplexFft&&) noexcept;

    std::size_t length() const { return length_; }

    /// @param input, output  `length()` values each; may not overlap  @throws DomainError on other sizes
    void forward(std::span<const std::complex<float>> input, std::span<std::complex<float>> output) const;
    /// The inverse times N: `inverse(forward(x))` is N x.
    void inverse(std::span<const std::complex<float>> input, std::span<std::complex<float>> output) const;

private:
    struct Plan;
    std::size_t length_;
    std::unique_ptr<Plan> plan_;
};

/// The same of a real series of even length; only the frequencies 0 … N/2 are given, the others are their conjugates.
class RealFft {
public:
    /// @param length  N, even, > 0  @throws DomainError otherwise
    explicit RealFft(std::size_t length);
    ~RealFft();
    RealFft(RealFft&&) noexcept;
    RealFft& operator=(RealFft&&) noexcept;

    std::size_t length() const { return length_; }
    std::size_t bins() const { return length_ / 2 + 1; }

    /// @param input  `length()` values  @param output  `bins()` values  @throws DomainError on other sizes
    void forward(std::span<const float> input, std::span<std::complex<float>> output) const;
    /// The inverse times N. @param input  `bins()` values  @param output  `length()` values
    void inverse(std::span<const std::complex<float>> input, std::span<float> output) const;

private:
    struct Plan;
    std::size_t length_;
    std::unique_ptr<Plan> plan_;
};

/// The transform at one frequency that need not be a bin: Σ x[n] e^(−2πi f n), double precision.
/// @param cycles_per_sample  f
std::complex<double> dft_at(std::span<const float> series, double cycles_per_sample);

}  // namespace guardband::dsp
