// Noise and insertion test signals against known truth.
#include <gmock/gmock.h>

#include <cmath>

#include "measure/waveform/line_noise.h"
#include "measure/waveform/made_video.h"

namespace guardband::measure {
namespace {

testsignal::CompositeRecipe with_test_lines(const char* system) {
    auto recipe = video_recipe(system);
    recipe.duration_s = 0.3;
    recipe.disturbance.snr_db = 60;
    const bool lines_525 = recipe.system.lines == 525;
    using enum testsignal::InsertionSignal;
    recipe.insertions = {{17, BarPulseStaircase}, {lines_525 ? 280 : 330, BarPulseModulatedStaircase}};
    return recipe;
}

class TestLines : public testing::TestWithParam<const char*> {};

// The claims: gain 0.3 %, phase 0.3°, K 0.3 %, delay 5 ns.
TEST_P(TestLines, WithoutDistortionShowNone) {
    const WaveformReport report = measured(with_test_lines(GetParam()), 10);
    EXPECT_LT(value(report, "differential_gain"), 0.3);
    EXPECT_LT(value(report, "differential_phase"), 0.3);
    EXPECT_LT(value(report, "luma_nonlinearity"), 0.5);
    EXPECT_LT(value(report, "k_factor_2t"), 0.3);
    EXPECT_NEAR(value(report, "chroma_luma_gain"), 0, 1);
    EXPECT_NEAR(value(report, "chroma_luma_delay"), 0, 5);
}

TEST_P(TestLines, ShowDifferentialGainAndPhase) {
    for (const double percent : {1.0, 5.0}) {
        auto recipe = with_test_lines(GetParam());
        recipe.distortion.differential_gain_percent = percent;
        recipe.distortion.differential_phase_deg = 0.8 * percent;
        const WaveformReport report = measured(recipe, 10);
        EXPECT_NEAR(value(report, "differential_gain"), percent, 0.3);
        EXPECT_NEAR(value(report, "differential_phase"), 0.8 * percent, 0.3);
    }
}

TEST_P(TestLines, ShowNonlinearityOfLuminance) {
    auto recipe = with_test_lines(GetParam());
    recipe.distortion.luma_nonlinearity_percent = 4;
    EXPECT_NEAR(value(measured(recipe, 10), "luma_nonlinearity"), 4, 0.5);
}

TEST_P(TestLines, ShowEchoesAsK) {
    for (const double percent : {1.0, 5.0}) {
        auto recipe = with_test_lines(GetParam());
        recipe.distortion.echo_percent = percent;
        recipe.distortion.echo_delay_ns = 1050;  // beyond 8T, where K is the echo's own height
        EXPECT_NEAR(value(measured(recipe, 10), "k_factor_2t"), percent, 0.3);
    }
}

TEST_P(TestLines, ShowChrominanceLateAndWeak) {
    for (const double delay_ns : {-100.0, 30.0}) {
        auto recipe = with_test_lines(GetParam());
        recipe.distortion.chroma_delay_ns = delay_ns;
        recipe.distortion.chroma_gain_percent = -8;
        const WaveformReport report = measured(recipe, 10);
        EXPECT_NEAR(value(report, "chroma_luma_delay"), delay_ns, 5);
        EXPECT_NEAR(value(report, "chroma_luma_gain"), -8, 1);
    }
}

INSTANTIATE_TEST_SUITE_P(Systems, TestLines, testing::Values("PAL", "NTSC"));

TEST(TestLinesAbsent, AreNotMadeUp) {
    const WaveformReport report = measured(video_recipe("PAL"), 8);
    for (const char* id : {"differential_gain", "differential_phase", "luma_nonlinearity", "k_factor_2t",
                           "chroma_luma_gain", "chroma_luma_delay"})
        EXPECT_TRUE(std::isnan(value(report, id))) << id;
}

class Noise : public testing::TestWithParam<double> {};

// The claim: 0.3 dB. White noise to half of the sampling rate has 5/8 of its power in 5 MHz of 8.
TEST_P(Noise, IsMeasured) {
    auto recipe = video_recipe("PAL");
    recipe.disturbance.snr_db = GetParam();
    recipe.disturbance.hum_mv = 100;
    const WaveformReport report = measured(recipe);
    EXPECT_NEAR(value(report, "luma_snr"), GetParam() + 10 * std::log10(8 / 5.0), 0.3);
    // Source: ITU-T J.61, from memory: 7.4 dB for white noise.
    EXPECT_NEAR(value(report, "luma_snr_weighted") - value(report, "luma_snr"), 7.4, 0.3);
}

INSTANTIATE_TEST_SUITE_P(Decibels, Noise, testing::Values(26, 36, 46, 56));

// Source: ITU-T J.61 (CCIR 567), from memory: the unified weighting of noise in 5 MHz is 7.4 dB for white noise and
// 12.2 dB for noise whose density rises with the square of the frequency.
TEST(UnifiedWeighting, HasTheStandardsWeightingFactors) {
    double white = 0, white_weighted = 0, rising = 0, rising_weighted = 0;
    for (double hz = 500; hz < 5e6; hz += 1000) {
        white += 1;
        white_weighted += unified_weighting(hz);
        rising += hz * hz;
        rising_weighted += hz * hz * unified_weighting(hz);
    }
    EXPECT_NEAR(10 * std::log10(white / white_weighted), 7.4, 0.1);
    EXPECT_NEAR(10 * std::log10(rising / rising_weighted), 12.2, 0.1);
}

}  // namespace
}  // namespace guardband::measure
