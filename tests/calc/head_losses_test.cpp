#include "calc/head_losses.h"

#include <gtest/gtest.h>

#include <cmath>
#include <complex>
#include <numbers>
#include <random>

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::DomainError;

constexpr double pi = std::numbers::pi;

double loss_db(double amplitude) { return -20 * std::log10(amplitude); }

/// Mean of a wave over a length, by Simpson's rule: what a straight gap does along its length and across its width.
double mean_of_wave(double length_um, double wavelength_um) {
    constexpr int steps = 2000;
    std::complex<double> sum = 0;
    for (int i = 0; i <= steps; ++i) {
        const double weight = i == 0 || i == steps ? 1 : i % 2 == 1 ? 4 : 2;
        sum += weight * std::polar(1.0, 2 * pi * length_um * i / (steps * wavelength_um));
    }
    return std::abs(sum) / (3.0 * steps);
}

/// What a head reads of a layer whose parts at depth y are down by exp(−2πy/λ), as a share of what it would read were
/// it all at the surface.
double mean_over_depth(double thickness_um, double wavelength_um) {
    constexpr int steps = 2000;
    double sum = 0;
    for (int i = 0; i <= steps; ++i) {
        const double weight = i == 0 || i == steps ? 1 : i % 2 == 1 ? 4 : 2;
        sum += weight * std::exp(-2 * pi * thickness_um * i / (steps * wavelength_um));
    }
    return sum / (3.0 * steps);
}

TEST(HeadLosses, AgreeWithIntegration) {
    for (const double size_um : {0.05, 0.3, 0.77, 1.9})
        for (const double wave_um : {0.6, 1.45, 9.2}) {
            EXPECT_NEAR(gap_loss_db(size_um, wave_um), loss_db(mean_of_wave(size_um, wave_um)), 1e-6);
            EXPECT_NEAR(thickness_loss_db(size_um, wave_um), loss_db(mean_over_depth(size_um, wave_um)), 1e-6);
        }
    for (const double width_um : {10.0, 29.0, 58.0})
        for (const double angle_deg : {0.1, 6.0, 30.0}) {
            const double along_um = width_um * std::tan(angle_deg * pi / 180);
            EXPECT_NEAR(azimuth_loss_db(width_um, angle_deg, 9.2), loss_db(mean_of_wave(along_um, 9.2)), 1e-4);
        }
}

TEST(HeadLosses, AreAFactorOfTheWavelengthOnly) {
    std::mt19937 random(4);
    std::uniform_real_distribution<double> any(0.01, 20);
    for (int i = 0; i < 1000; ++i) {
        const double size = any(random), wave = any(random), scale = any(random);
        EXPECT_NEAR(spacing_loss_db(size * scale, wave * scale), spacing_loss_db(size, wave),
                    1e-12 * spacing_loss_db(size, wave));
        EXPECT_NEAR(thickness_loss_db(size * scale, wave * scale), thickness_loss_db(size, wave), 1e-10);
        EXPECT_NEAR(least_azimuth_loss_db(size * scale, 6, wave * scale), least_azimuth_loss_db(size, 6, wave), 1e-10);
    }
}

TEST(HeadLosses, GrowWithSpacingAndThickness) {
    std::mt19937 random(5);
    std::uniform_real_distribution<double> any(0.01, 5);
    for (int i = 0; i < 1000; ++i) {
        const double size = any(random), wave = any(random), more = size * (1 + any(random));
        EXPECT_GT(spacing_loss_db(more, wave), spacing_loss_db(size, wave));
        EXPECT_GT(thickness_loss_db(more, wave), thickness_loss_db(size, wave));
        EXPECT_GE(least_azimuth_loss_db(more, 6, wave), least_azimuth_loss_db(size, 6, wave));
        EXPECT_LE(least_azimuth_loss_db(size, 6, wave), azimuth_loss_db(size, 6, wave) + 1e-9);
    }
}

TEST(HeadLosses, AreNoneOfNothing) {
    EXPECT_EQ(spacing_loss_db(0, 1), 0);
    EXPECT_EQ(gap_loss_db(0, 1), 0);
    EXPECT_EQ(thickness_loss_db(0, 1), 0);
    EXPECT_EQ(azimuth_loss_db(58, 0, 1), 0);
    EXPECT_NEAR(thickness_loss_db(1e-9, 1), 0, 1e-7);  // no difference of nearly equal numbers
}

TEST(HeadLosses, HaveNullsAtWholeWaves) {
    EXPECT_TRUE(std::isinf(gap_loss_db(1, 1)));
    EXPECT_TRUE(std::isinf(gap_loss_db(1.5, 0.5)));
    EXPECT_GT(gap_loss_db(1 + 1e-9, 1), 150);
    // An input that reaches the null at one end of its width counts by the other.
    const auto level = [](std::span<const double> x) { return gap_loss_db(x[0], 1); };
    const Spread spread = level_spread_of(level, {{0.9, 0.1}});
    EXPECT_NEAR(spread.worst, gap_loss_db(0.9, 1) - gap_loss_db(0.8, 1), 1e-9);
    EXPECT_TRUE(std::isinf(level_spread_of(level, {{1, 0.1}}).value));
}

TEST(HeadLosses, ThicknessFallsSixDecibelsAnOctaveWhenThick) {
    EXPECT_NEAR(thickness_loss_db(20, 1) - thickness_loss_db(20, 2), 20 * std::log10(2.0), 1e-9);
}

TEST(Wavelength, IsSpeedOverFrequency) {
    EXPECT_NEAR(wavelength_um(5.8, 4e6), 1.45, 1e-12);
    EXPECT_THROW(wavelength_um(0, 1), DomainError);
    EXPECT_THROW(wavelength_um(1, -1), DomainError);
}

TEST(HeadLosses, RefuseWhatCannotBe) {
    EXPECT_THROW(spacing_loss_db(-0.1, 1), DomainError);
    EXPECT_THROW(gap_loss_db(0.1, 0), DomainError);
    EXPECT_THROW(thickness_loss_db(NAN, 1), DomainError);
    EXPECT_THROW(azimuth_loss_db(1, 90, 1), DomainError);
}

}  // namespace
}  // namespace guardband::calc
