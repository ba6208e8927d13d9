// Dynamics of the meters' detectors.
#include "measure/sound/detector.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "testsignal/gaussian_noise.h"

namespace guardband::measure {
namespace {

constexpr double rate_hz = 8000;

struct Swing {
    double highest = 0, lowest_before_next = 0;
};

/// Where the pointer stands while unidirectional pulses come once a second, after it has settled.
Swing pointer_under_pulses(double pulse_ms) {
    QuasiPeakPointer pointer(rate_hz);
    Swing swing;
    for (int second = 0; second < 4; ++second) {
        double highest = 0, last = 0;
        for (int n = 0; n < static_cast<int>(rate_hz); ++n) {
            last = pointer.see(n < pulse_ms * rate_hz / 1000 ? 1 : 0);
            highest = std::max(highest, last);
        }
        swing = {highest, last};
    }
    return swing;
}

// IEC 60386 (DIN 45507), dynamic behaviour of the indicator: from memory, with its tolerances.
TEST(QuasiPeak, ReadsPulsesAsTheOlderMeterDid) {
    EXPECT_NEAR(pointer_under_pulses(10).highest, 0.21, 0.03);
    EXPECT_NEAR(pointer_under_pulses(30).highest, 0.62, 0.06);
    EXPECT_NEAR(pointer_under_pulses(60).highest, 0.90, 0.06);
    EXPECT_NEAR(pointer_under_pulses(100).highest, 1.00, 0.04);
    EXPECT_GE(pointer_under_pulses(100).lowest_before_next, 0.36);
    EXPECT_LE(pointer_under_pulses(100).lowest_before_next, 0.44);
}

TEST(QuasiPeak, DoesNotDependOnTheRateOfValues) {
    EXPECT_NEAR(QuasiPeakPointer::scale(8000), QuasiPeakPointer::scale(16'000), 0.002);
}

TEST(TwoSigma, OfNormalNoiseIsTwoStandardDeviations) {
    DeflectionMeter meter(Detector::TwoSigma, rate_hz, 20, 10);
    std::vector<float> noise(static_cast<std::size_t>(20 * rate_hz));
    testsignal::Random(7).fill_gaussian(noise);
    meter.see(noise);
    EXPECT_NEAR(meter.reading(), 2, 0.02);  // that is what gives the reading its name
    EXPECT_LT(meter.scatter(), 0.01);
}

TEST(TwoSigma, OfASineIsItsPeak) {
    DeflectionMeter meter(Detector::TwoSigma, rate_hz, 5, 4);
    std::vector<float> sine;
    for (int n = 0; n < 5 * static_cast<int>(rate_hz); ++n)
        sine.push_back(static_cast<float>(0.001 * std::sin(2 * std::numbers::pi * 4.1 * n / rate_hz)));
    meter.see(sine);
    EXPECT_NEAR(meter.reading(), 0.001 * std::sin(0.9545 * std::numbers::pi / 2), 1e-6);
}

TEST(TwoSigma, LeavesRareBurstsOut) {
    DeflectionMeter meter(Detector::TwoSigma, rate_hz, 10, 5);
    std::vector<float> series(static_cast<std::size_t>(10 * rate_hz), 0.001F);
    for (std::size_t n = 0; n < static_cast<std::size_t>(0.4 * rate_hz); ++n) series[n] = 0.01F;  // 4 % of the time
    meter.see(series);
    EXPECT_NEAR(meter.reading(), 0.001, 2e-6);
}

}  // namespace
}  // namespace guardband::measure
