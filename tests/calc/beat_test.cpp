#include "calc/beat.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

using quantity::DomainError;
using quantity::Rational;

const Rational ntsc_fields{60000, 1001};
const Rational ntsc_frames{30000, 1001};

/// Beats of common screens before common cameras, worked by hand from the sampling theorem: nearest multiple,
/// difference.
struct Beat {
    Rational screen, camera, beat;
};

class WorkedBeat : public testing::TestWithParam<Beat> {};

TEST_P(WorkedBeat, IsExact) {
    const auto& [screen, camera, expected] = GetParam();
    EXPECT_EQ(beat(screen, camera), expected) << to_string(beat(screen, camera));
    EXPECT_NEAR(beat_hz(screen.value(), camera.value()), expected.value(), 1e-12);
    EXPECT_NEAR(apparent_flicker_hz(screen.value(), camera.value()), std::abs(expected.value()), 1e-12);
}

INSTANTIATE_TEST_SUITE_P(ScreensBeforeCameras, WorkedBeat,
                         testing::Values(Beat{ntsc_fields, 25, {9950, 1001}},    // 9.9401 Hz, 2 × 25 below
                                         Beat{ntsc_fields, 50, {9950, 1001}},    //
                                         Beat{ntsc_fields, 24, {11952, 1001}},   // 11.9401 Hz, 2 × 24 below
                                         Beat{ntsc_fields, 30, {-60, 1001}},     // 0.0599 Hz, a period of 16.683 s
                                         Beat{ntsc_fields, ntsc_frames, 0},      // stands still
                                         Beat{60, ntsc_frames, {60, 1001}},      //
                                         Beat{60, 25, 10},                       //
                                         Beat{60, 24, 12},                       // half way between 48 and 72
                                         Beat{50, ntsc_frames, {-9950, 1001}},   //
                                         Beat{50, 30, -10},                      //
                                         Beat{50, ntsc_fields, {-9950, 1001}},   //
                                         Beat{50, 24, 2},                        //
                                         Beat{50, {24000, 1001}, {2050, 1001}},  // 2.0480 Hz
                                         Beat{50, 25, 0},                        // stands still
                                         Beat{100, ntsc_frames, {10100, 1001}},  // 10.0899 Hz
                                         Beat{100, 30, 10},                      //
                                         Beat{120, 25, -5}));

TEST(Beat, OfSixtyHertzBeforeFiftyIsAboutTen) {
    // Common practice, no source: 60 Hz pictures before a 50 Hz camera beat at about 10 Hz.
    EXPECT_NEAR(apparent_flicker_hz(ntsc_fields.value(), 50), 10, 0.1);
    EXPECT_NEAR(apparent_flicker_hz(60, 25), 10, 0.1);
}

TEST(Beat, RefusesRatesThatAreNone) {
    EXPECT_THROW(beat(0, 25), DomainError);
    EXPECT_THROW(beat(50, 0), DomainError);
    EXPECT_THROW(beat_hz(50, -1), DomainError);
    EXPECT_THROW(beat_hz(INFINITY, 25), DomainError);
}

TEST(Aliases, AreAllRatesThatShowTheSame) {
    const auto found = aliases(10, 30, 20, 120);
    std::vector<double> rates;
    for (const Alias& a : found) {
        rates.push_back(a.rate_hz);
        EXPECT_NEAR(beat_hz(a.rate_hz, 30), a.beat_hz, 1e-12) << a.rate_hz;
    }
    EXPECT_EQ(rates, (std::vector<double>{20, 40, 50, 70, 80, 100, 110}));
}

TEST(Aliases, MeetAtTheEnds) {
    EXPECT_EQ(aliases(0, 25, 50, 100).size(), 3U);   // 50, 75, 100
    EXPECT_EQ(aliases(12, 24, 50, 100).size(), 2U);  // 60, 84
    EXPECT_TRUE(aliases(1, 25, 55, 70).empty());
    EXPECT_THROW(aliases(13, 25, 10, 200), DomainError);
    EXPECT_THROW(aliases(0.0001, 0.0001, 10, 200), DomainError);
}

TEST(ExposureGain, HasItsNullsAtWholePeriods) {
    EXPECT_EQ(exposure_gain(50, 0), 1);
    EXPECT_NEAR(exposure_gain(50, 1.0 / 50), 0, 1e-15);
    EXPECT_NEAR(exposure_gain(ntsc_fields.value(), 1001.0 / 60000), 0, 1e-15);
    EXPECT_NEAR(exposure_gain(50, 1.0 / 100), 2 / std::numbers::pi,
                1e-15);  // half a period: the mean of half a sine wave
    EXPECT_THROW(exposure_gain(50, -1), DomainError);
}

TEST(ExposureGain, IsTheMeanOverTheExposure) {
    // The definition: the amplitude of the mean of a cosine over the exposure, here by the midpoint rule.
    for (const double exposure_s : {0.001, 0.0071, 0.0213, 0.04}) {
        constexpr int steps = 20000;
        double mean_cos = 0, mean_sin = 0;
        for (int i = 0; i < steps; ++i) {
            const double phase = 2 * std::numbers::pi * 59.94 * exposure_s * (i + 0.5) / steps;
            mean_cos += std::cos(phase) / steps, mean_sin += std::sin(phase) / steps;
        }
        EXPECT_NEAR(exposure_gain(59.94, exposure_s), std::hypot(mean_cos, mean_sin), 1e-7);
    }
}

TEST(Bands, ReadOutOfOnePeriodMeetsTheScan) {
    EXPECT_NEAR(bands_per_height(59.94, 1.0 / 60, 0), 0.999, 1e-12);  // a lamp, or a screen whose scan is not seen
    EXPECT_EQ(bands_per_height(50, 0.02, 1), 0);                      // scanned and read in step
    EXPECT_EQ(bands_per_height(50, 0, 1), -1);
}

}  // namespace
}  // namespace guardband::calc
