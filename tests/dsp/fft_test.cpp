#include "dsp/fft.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>
#include <vector>

#include "quantity/errors.h"

namespace guardband::dsp {
namespace {

using Complex = std::complex<float>;

/// The definition, in double precision: what the fast transform is held against.
std::vector<std::complex<double>> direct(const std::vector<std::complex<double>>& x) {
    const std::size_t n = x.size();
    std::vector<std::complex<double>> result(n);
    for (std::size_t k = 0; k < n; ++k) {
        for (std::size_t i = 0; i < n; ++i) {
            const double turns = static_cast<double>(k * i % n) / static_cast<double>(n);
            result[k] += x[i] * std::polar(1.0, -2 * std::numbers::pi * turns);
        }
    }
    return result;
}

std::vector<std::complex<double>> noise(std::size_t n, bool real) {
    std::mt19937 random(7);
    std::normal_distribution<double> normal;
    std::vector<std::complex<double>> x(n);
    for (auto& v : x)
        v = {static_cast<float>(normal(random)), real ? 0.0 : static_cast<double>(static_cast<float>(normal(random)))};
    return x;
}

class FftLength : public testing::TestWithParam<std::size_t> {};

/// Rounding: a step of radix p adds p terms one after the other, each to a relative 1.2e-7; outputs are about sqrt(N).
double allowed(std::size_t n) {
    double additions = 0;
    std::size_t rest = n;
    for (std::size_t factor = 2; rest > 1; ++factor) {
        for (; rest % factor == 0; rest /= factor) additions += static_cast<double>(factor);
    }
    return 1.2e-7 * additions * std::sqrt(static_cast<double>(n));
}

TEST_P(FftLength, ComplexAgreesWithDefinition) {
    const std::size_t n = GetParam();
    const auto x = noise(n, false);
    std::vector<Complex> input(x.begin(), x.end()), output(n), back(n);
    const ComplexFft fft(n);
    fft.forward(input, output);
    const auto expected = direct(x);
    for (std::size_t k = 0; k < n; ++k)
        EXPECT_LT(std::abs(std::complex<double>(output[k]) - expected[k]), allowed(n)) << k;
    fft.inverse(output, back);
    for (std::size_t i = 0; i < n; ++i) EXPECT_LT(std::abs(back[i] / static_cast<float>(n) - input[i]), 1e-5) << i;
}

TEST_P(FftLength, RealAgreesWithDefinition) {
    const std::size_t n = GetParam();
    if (n % 2 != 0) {
        EXPECT_THROW(RealFft{n}, quantity::DomainError);
        return;
    }
    const auto x = noise(n, true);
    std::vector<float> input(n), back(n);
    for (std::size_t i = 0; i < n; ++i) input[i] = static_cast<float>(x[i].real());
    const RealFft fft(n);
    std::vector<Complex> output(fft.bins());
    fft.forward(input, output);
    const auto expected = direct(x);
    for (std::size_t k = 0; k < output.size(); ++k) {
        EXPECT_LT(std::abs(std::complex<double>(output[k]) - expected[k]), allowed(n)) << k;
    }
    fft.inverse(output, back);
    for (std::size_t i = 0; i < n; ++i) EXPECT_NEAR(back[i] / static_cast<float>(n), input[i], 1e-5) << i;
}

INSTANTIATE_TEST_SUITE_P(Lengths, FftLength, testing::Values(2, 3, 8, 30, 97, 144, 250, 864));

TEST(Fft, FastLengthsHaveSmallFactorsOnly) {
    for (std::size_t n : {1U, 2U, 7U, 121U, 1999U, 3197U, 7681U}) {
        std::size_t rest = fast_length(n);
        EXPECT_GE(rest, n);
        EXPECT_EQ(rest % 2, 0U);
        for (std::size_t factor : {2U, 3U, 5U}) {
            while (rest % factor == 0) rest /= factor;
        }
        EXPECT_EQ(rest, 1U) << n;
    }
}

TEST(Fft, RefusesWrongSizes) {
    EXPECT_THROW(ComplexFft{0}, quantity::DomainError);
    const RealFft fft(8);
    std::vector<float> input(7);
    std::vector<Complex> output(5);
    EXPECT_THROW(fft.forward(input, output), quantity::DomainError);
}

TEST(DftAt, AgreesWithClosedFormBetweenBins) {
    // Σ e^(2πi (f0 − f) n) is a geometric series.
    constexpr std::size_t n = 5000;
    constexpr double f0 = 0.11, f = 0.11037;
    std::vector<float> x(n);
    for (std::size_t i = 0; i < n; ++i)
        x[i] = static_cast<float>(std::cos(2 * std::numbers::pi * f0 * static_cast<double>(i)));
    const auto series = [](double turns) {
        const auto q = std::polar(1.0, 2 * std::numbers::pi * turns);
        return (1.0 - std::polar(1.0, 2 * std::numbers::pi * std::remainder(turns * n, 1.0))) / (1.0 - q);
    };
    const auto expected = 0.5 * (series(f0 - f) + series(-f0 - f));
    EXPECT_LT(std::abs(dft_at(x, f) - expected), 1e-7 * n);  // the samples are rounded to float
    EXPECT_LT(std::abs(dft_at(x, f + 3) - expected), 1e-7 * n) << "whole turns change nothing";
}

}  // namespace
}  // namespace guardband::dsp
