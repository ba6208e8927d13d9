// Low-passes, networks of least delay and level statistics against what mathematics says of them.
#include <gtest/gtest.h>

#include <cmath>
#include <complex>
#include <numbers>

#include "dsp/level_histogram.h"
#include "dsp/low_pass.h"
#include "dsp/minimum_phase.h"
#include "quantity/errors.h"

namespace guardband::dsp {
namespace {

double gain_at(const std::vector<float>& taps, double cycles_per_sample) {
    std::complex<double> sum;
    for (std::size_t n = 0; n < taps.size(); ++n)
        sum += static_cast<double>(taps[n]) *
               std::polar(1.0, -2 * std::numbers::pi * cycles_per_sample * static_cast<double>(n));
    return std::abs(sum);
}

TEST(LowPass, KeepsWithinItsMask) {
    const std::vector<float> taps = low_pass(0.05, 0.1, 80);
    for (double f = 0; f <= 0.05; f += 0.001) EXPECT_NEAR(gain_at(taps, f), 1, 2e-4) << f;
    for (double f = 0.1; f <= 0.5; f += 0.001) EXPECT_LT(gain_at(taps, f), 2e-4) << f;  // −80 dB and rounding
    EXPECT_THROW(low_pass(0.2, 0.1, 80), quantity::DomainError);
}

TEST(MinimumPhase, OfARealPoleHasItsPhase) {
    // |1/(1 − a e^(−iω))| alone must give back the phase of that pole.
    constexpr double a = 0.9;
    constexpr std::size_t bins = 1025;
    std::vector<double> magnitude;
    std::vector<std::complex<double>> truth;
    for (std::size_t k = 0; k < bins; ++k) {
        const double w = std::numbers::pi * static_cast<double>(k) / (bins - 1);
        truth.push_back(1.0 / (1.0 - a * std::polar(1.0, -w)));
        magnitude.push_back(std::abs(truth.back()));
    }
    const auto response = minimum_phase(magnitude);
    for (std::size_t k = 0; k < bins; ++k)
        EXPECT_NEAR(std::abs(std::complex<double>(response[k]) - truth[k]), 0, 1e-4 * std::abs(truth[k])) << k;
    EXPECT_THROW(minimum_phase(std::vector<double>(5, 0.0)), quantity::DomainError);
}

TEST(LevelHistogram, GivesTheLevelOfAShareOfTime) {
    LevelHistogram levels, others;
    for (int i = 1; i <= 1000; ++i) (i % 2 == 0 ? levels : others).add(1e-4 * i);
    levels.add(others);
    EXPECT_EQ(levels.count(), 1000);
    EXPECT_NEAR(levels.quantile(0.95), 0.095, 0.095 * 0.0015);
    EXPECT_NEAR(levels.quantile(1), 0.1, 0.1 * 0.001);
    EXPECT_THROW(LevelHistogram().quantile(0.5), quantity::DomainError);
}

}  // namespace
}  // namespace guardband::dsp
