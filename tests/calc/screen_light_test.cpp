#include "calc/screen_light.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <random>

#include "quantity/errors.h"
#include "testsignal/filmed_light.h"

namespace guardband::calc {
namespace {

using quantity::DomainError;

constexpr double pi = std::numbers::pi;

/// First harmonic of the exposed light over its mean, by a sum over one period.
double harmonic_by_sum(const ScreenLight& light, double exposure_s) {
    constexpr int steps = 8192;
    std::complex<double> sum = 0;
    double mean = 0;
    for (int i = 0; i < steps; ++i) {
        const double turn = (i + 0.5) / steps, value = exposed_light(light, turn / light.rate_hz, exposure_s);
        sum += value * std::polar(1.0, -2 * pi * turn);
        mean += value;
    }
    EXPECT_NEAR(mean / steps, 1, 1e-3);
    return 2 * std::abs(sum) / mean;
}

/// Light of a decaying train of flashes at one moment, by adding up what is left of them.
double light_at(const ScreenLight& light, double t_s) {
    const double period = 1 / light.rate_hz;
    double sum = 0;
    for (double age = t_s - std::floor(t_s / period) * period; age < 40 * light.decay_s; age += period)
        sum += std::exp(-age / light.decay_s);
    return sum * period / light.decay_s;
}

// Numerical integration of the light itself, trapezoids between one flash and the next.
TEST(ExposedLight, AgreesWithIntegration) {
    for (const double rate : {50.0, 59.94, 100.0})
        for (const double decay : {0.0005, 0.004})
            for (const double exposure : {0.002, 0.0167, 0.033})
                for (const double start : {0.0011, 0.0093}) {
                    const ScreenLight light{rate, decay};
                    double sum = 0;
                    for (double from = start; from < start + exposure;) {
                        const double next = (std::floor(from * rate + 1e-9) + 1) / rate;
                        const double to = std::min(next, start + exposure);
                        constexpr int steps = 2000;
                        for (int i = 0; i < steps; ++i)
                            sum += light_at(light, from + (i + 0.5) / steps * (to - from)) * (to - from) / steps;
                        from = to;
                    }
                    EXPECT_NEAR(exposed_light(light, start, exposure), sum / exposure, 2e-4)
                        << rate << " " << decay << " " << exposure << " " << start;
                }
}

// The test signals' own light, written by others as the integral of a periodic function; this one adds up flashes.
TEST(ExposedLight, AgreesWithTheTestSignals) {
    std::mt19937 random(3);
    std::uniform_real_distribution<double> rate(24, 130), decay(5e-5, 0.01), exposure(1e-4, 0.05), start(-1, 100);
    for (int i = 0; i < 5000; ++i) {
        const ScreenLight light{rate(random), decay(random)};
        const double t = start(random), long_s = exposure(random);
        EXPECT_NEAR(exposed_light(light, t, long_s),
                    testsignal::flash_exposure(t, long_s, 1 / light.rate_hz, light.decay_s),
                    1e-9 / (long_s * light.rate_hz));
    }
}

TEST(ExposedLight, WithoutAfterglowCountsFlashes) {
    EXPECT_NEAR(exposed_light({50, 0}, 0.019, 0.002), 10, 1e-12);  // one flash in a tenth of a period
    EXPECT_EQ(exposed_light({50, 0}, 0.005, 0.002), 0);
    EXPECT_NEAR(exposed_light({50, 1e-7}, 0.019, 0.002), exposed_light({50, 0}, 0.019, 0.002), 1e-9);
}

TEST(FirstHarmonic, IsThatOfTheExposedLight) {
    for (const double rate : {50.0, 60000 / 1001.0, 120.0})
        for (const double decay : {0.0, 0.0003, 0.002})
            for (const double exposure : {0.001, 0.0085, 0.02, 0.0333})
                EXPECT_NEAR(first_harmonic_depth({rate, decay}, exposure), harmonic_by_sum({rate, decay}, exposure),
                            2e-3)
                    << rate << " " << decay << " " << exposure;
    EXPECT_NEAR(first_harmonic_depth({50, 0}, 1e-9), 2, 1e-9);
}

TEST(PeakToPeak, IsThatOfTheExposedLight) {
    std::mt19937 random(9);
    std::uniform_real_distribution<double> rate(40, 120), decay(1e-4, 0.02), exposure(1e-3, 0.06);
    for (int i = 0; i < 200; ++i) {
        const ScreenLight light{rate(random), decay(random)};
        const double long_s = exposure(random);
        double brightest = 0, darkest = 1e9;
        constexpr int steps = 4000;
        for (int k = 0; k < steps; ++k) {
            const double value =
                testsignal::flash_exposure(k / (steps * light.rate_hz), long_s, 1 / light.rate_hz, light.decay_s);
            brightest = std::max(brightest, value), darkest = std::min(darkest, value);
        }
        // A step of the phase can miss the top by what the light falls in it.
        const double step = 1.5 * light_at(light, 0) / (steps * light.rate_hz * long_s);
        EXPECT_GE(peak_to_peak(light, long_s), brightest - darkest - 1e-9);
        EXPECT_LE(peak_to_peak(light, long_s), brightest - darkest + 2 * step);
    }
}

TEST(PeakToPeak, IsNoneOfWholeRefreshes) {
    for (const double rate : {50.0, 60000 / 1001.0, 100.0})
        for (const int refreshes : {1, 2, 3, 7}) {
            EXPECT_EQ(peak_to_peak({rate, 0.001}, refreshes / rate), 0);
            EXPECT_EQ(peak_to_peak({rate, 0}, refreshes / rate), 0);
            EXPECT_NEAR(first_harmonic_depth({rate, 0}, refreshes / rate), 0, 1e-14);
        }
    EXPECT_NEAR(peak_to_peak({50, 0}, 0.01), 2, 1e-12);  // one flash or none, twice the mean
}

TEST(ScreenLight, RefusesWhatCannotBe) {
    EXPECT_THROW(exposed_light({0, 0}, 0, 1), DomainError);
    EXPECT_THROW(first_harmonic_depth({50, -1}, 1), DomainError);
    EXPECT_THROW(peak_to_peak({50, 0}, 0), DomainError);
}

}  // namespace
}  // namespace guardband::calc
