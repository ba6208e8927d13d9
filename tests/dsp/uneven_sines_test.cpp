// Sines in series with gaps: rate, amplitude and phase against the truth and against the plain transform; the stated
// rate of false alarms; what the stated errors are worth.
#include "dsp/uneven_sines.h"

#include <gtest/gtest.h>

#include <cmath>
#include <complex>
#include <numbers>
#include <random>

#include "dsp/fft.h"

namespace guardband::dsp {
namespace {

/// Noise of RMS 1 at the times of lines: bursts of 0.9 with gaps of 0.1, a fifth of the rest missing at random.
UnevenSeries noise(std::mt19937& random, double seconds, double rate_hz) {
    std::normal_distribution<double> normal;
    std::uniform_real_distribution<double> uniform;
    UnevenSeries series;
    for (double t = 0; t < seconds; t += 1 / rate_hz) {
        if (t * 50 - std::floor(t * 50) > 0.9 || uniform(random) < 0.2) continue;
        series.times_s.push_back(t), series.values.push_back(normal(random));
    }
    return series;
}

TEST(UnevenSines, FalseAlarmsAreAsRareAsStated) {
    std::mt19937 random(1);
    constexpr int searches = 1000;
    int alarms = 0;
    for (int i = 0; i < searches; ++i) alarms += strongest_sine(noise(random, 0.5, 1000), {4, 200, 0.01}) ? 1 : 0;
    EXPECT_LE(alarms, 20) << "0.01 of them, and twice that by chance at most";
}

// Stated errors: what a hundred trials scatter by, within a fifth; and no bias beyond a fifth of them.
TEST(UnevenSines, RateAndAmplitudeScatterAsStated) {
    std::mt19937 random(2);
    constexpr int trials = 100;
    double rate_squares = 0, rate_sum = 0, size_squares = 0, size_sum = 0, stated_rate = 0, stated_size = 0;
    for (int i = 0; i < trials; ++i) {
        UnevenSeries series = noise(random, 1, 1000);
        for (std::size_t n = 0; n < series.values.size(); ++n)
            series.values[n] += 3 + std::sin(2 * std::numbers::pi * 61.7 * series.times_s[n] + i);
        const auto found = strongest_sine(series, {4, 200});
        ASSERT_TRUE(found);
        const double rate = (found->hz - 61.7) / found->hz_error;
        const double size = (found->amplitude() - 1) / found->amplitude_error;
        rate_sum += rate, rate_squares += rate * rate, size_sum += size, size_squares += size * size;
        stated_rate += found->hz_error / trials, stated_size += found->amplitude_error / trials;
    }
    EXPECT_NEAR(rate_sum / trials, 0, 0.3);
    EXPECT_NEAR(size_sum / trials, 0, 0.3);
    EXPECT_NEAR(std::sqrt(rate_squares / trials), 1, 0.2);
    EXPECT_NEAR(std::sqrt(size_squares / trials), 1, 0.2);
    // As textbooks have it of N even samples in T seconds: σ √(2/N), and σ √6 / (π T A √N). From memory.
    EXPECT_NEAR(stated_size, std::sqrt(2 / 720.0), 0.1 * stated_size);
    EXPECT_NEAR(stated_rate, std::sqrt(6 / 720.0) / std::numbers::pi, 0.1 * stated_rate);
}

TEST(UnevenSines, OnEvenSamplesAgreesWithTheTransform) {
    UnevenSeries series;
    std::vector<float> even;
    for (int n = 0; n < 1000; ++n) {
        const double t = n / 1000.0,
                     value = 0.3 * std::cos(2 * std::numbers::pi * 40 * t) - std::sin(2 * std::numbers::pi * 40 * t);
        series.times_s.push_back(t), series.values.push_back(value), even.push_back(static_cast<float>(value));
    }
    const Sine found = fit_sine(series, 40, false);
    const std::complex<double> bin = 2.0 / 1000 * dft_at(even, 0.04);
    EXPECT_NEAR(found.cosine, bin.real(), 1e-5);
    EXPECT_NEAR(found.sine, -bin.imag(), 1e-5);
}

TEST(UnevenSines, SeveralAreFittedTogether) {
    std::mt19937 random(3);
    UnevenSeries series = noise(random, 1, 2000);
    for (std::size_t n = 0; n < series.values.size(); ++n) {
        const double t = 2 * std::numbers::pi * series.times_s[n];
        series.values[n] = series.values[n] / 100 + 5 * std::sin(20 * t) + 2 * std::cos(22.5 * t);
    }
    std::vector<Sine> sines(2);
    sines[0].hz = 20.1, sines[1].hz = 22.6;
    std::vector<double> left;
    fit_together(series, sines, left);
    fit_together(series, sines, left);
    EXPECT_NEAR(sines[0].hz, 20, 0.001);
    EXPECT_NEAR(sines[0].amplitude(), 5, 0.005);
    EXPECT_NEAR(sines[1].hz, 22.5, 0.002);
    EXPECT_NEAR(sines[1].amplitude(), 2, 0.005);
    double squares = 0;
    for (const double one : left) squares += one * one;
    EXPECT_NEAR(std::sqrt(squares / static_cast<double>(left.size())), 0.01, 0.001);
}

TEST(UnevenSines, TooLittleIsNothing) {
    EXPECT_FALSE(strongest_sine({}, {1, 10}));
    EXPECT_FALSE(strongest_sine({{0, 1, 2}, {0, 1, 0}}, {1, 10}));
    EXPECT_EQ(fit_sine({}, 5).amplitude(), 0);
    UnevenSeries flat;
    for (int n = 0; n < 100; ++n) flat.times_s.push_back(n / 100.0), flat.values.push_back(7);
    EXPECT_FALSE(strongest_sine(flat, {2, 20}));
}

}  // namespace
}  // namespace guardband::dsp
