// Noise and insertion test signals against known truth.
#include <gmock/gmock.h>

#include <cmath>
#include <optional>
#include <string>

#include "measure/waveform/line_noise.h"
#include "measure/waveform/made_video.h"
#include "testsignal/composite/insertion.h"

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

// A machine without time base correction turns the subcarrier within each line: what is stated holds that.
TEST_P(TestLines, BearTheTimeBaseInTheirUncertainty) {
    for (const std::uint64_t seed : {1, 2, 3, 4}) {
        auto recipe = with_test_lines(GetParam());
        recipe.seed = seed;
        recipe.time_base.random_ns = 30;
        const WaveformReport report = measured(recipe, 10);
        const quantity::Figure& phase = *report.figures.find("differential_phase");
        EXPECT_LT(*phase.number(), 3 * *phase.uncertainty()) << seed;
        EXPECT_LT(*phase.uncertainty(), 20) << seed;
    }
}

INSTANTIATE_TEST_SUITE_P(Systems, TestLines, testing::Values("PAL", "NTSC"));

struct NoiseSweep {
    const char* system;
    double snr_db, percent;
};

void PrintTo(const NoiseSweep& s, std::ostream* out) { *out << s.system << ' ' << s.snr_db << ' ' << s.percent; }

class InNoise : public testing::TestWithParam<NoiseSweep> {};

/// Errors of a figure over recordings.
struct Errors {
    double sum = 0, squares = 0, in_uncertainties = 0;
    int n = 0;

    void add(const WaveformReport& report, const char* id, double truth) {
        const double off = value(report, id) - truth;
        sum += off, squares += off * off, ++n;
        in_uncertainties += std::pow(off / *report.figures.find(id)->uncertainty(), 2);
    }
    double mean() const { return sum / n; }
    double of_mean() const { return std::sqrt((squares / n - mean() * mean()) / (n - 1)); }
};

// The claims, of the mean over recordings: noise must not pass for distortion.
TEST_P(InNoise, DistortionIsNotReadTooHigh) {
    const NoiseSweep& sweep = GetParam();
    Errors gain, phase, k, nonlinearity;
    auto recipe = with_test_lines(sweep.system);
    recipe.duration_s = 0.25;
    recipe.sampling.rate_hz = 13'500'000;
    recipe.disturbance.snr_db = sweep.snr_db;
    recipe.distortion.differential_gain_percent = recipe.distortion.differential_phase_deg = sweep.percent;
    recipe.distortion.echo_percent = sweep.percent, recipe.distortion.echo_delay_ns = 1050;
    for (recipe.seed = 1; recipe.seed <= 8; ++recipe.seed) {
        const WaveformReport report = measured(recipe);
        gain.add(report, "differential_gain", sweep.percent);
        phase.add(report, "differential_phase", sweep.percent);
        k.add(report, "k_factor_2t", sweep.percent);
        nonlinearity.add(report, "luma_nonlinearity", 0);
    }
    for (const Errors& errors : {gain, phase, k}) {
        EXPECT_NEAR(errors.mean(), 0, 0.3 + 2 * errors.of_mean());
        EXPECT_LT(std::sqrt(errors.in_uncertainties / errors.n), 1.5);
    }
    if (sweep.percent == 0) {  // an echo bends staircases too
        EXPECT_NEAR(nonlinearity.mean(), 0, 0.5);
    }
}

INSTANTIATE_TEST_SUITE_P(Systems, InNoise,
                         testing::Values(NoiseSweep{"PAL", 50, 0}, NoiseSweep{"PAL", 44, 0}, NoiseSweep{"PAL", 44, 4},
                                         NoiseSweep{"NTSC", 44, 2}));

struct BurstSweep {
    const char* system;
    double rate_hz;
    std::optional<double> roll_off_mhz;
    double snr_db;
};

void PrintTo(const BurstSweep& s, std::ostream* out) {
    *out << s.system << ' ' << s.rate_hz / 1e6 << " MHz " << s.roll_off_mhz.value_or(0) << ' ' << s.snr_db << " dB";
}

class Bursts : public testing::TestWithParam<BurstSweep> {};

// The claim: 0.05 dB, and scatter as the uncertainty says.
TEST_P(Bursts, AreMeasuredAgainstTheFlags) {
    const BurstSweep& sweep = GetParam();
    auto recipe = video_recipe(sweep.system);
    recipe.duration_s = 0.15;
    recipe.sampling.rate_hz = static_cast<std::int64_t>(sweep.rate_hz);
    recipe.insertions = {{18, testsignal::InsertionSignal::Multiburst}};
    recipe.distortion.roll_off_mhz = sweep.roll_off_mhz;
    recipe.disturbance.snr_db = sweep.snr_db;
    double bias = 0, squares = 0, in_uncertainties = 0;
    int n = 0;
    for (recipe.seed = 1; recipe.seed <= 4; ++recipe.seed) {
        const WaveformReport report = measured(recipe, 8);
        int burst = 0;
        for (const auto& e : testsignal::insertion_elements(recipe.system, recipe.insertions.front().signal)) {
            if (e.kind != testsignal::InsertionElement::Kind::Wave) continue;
            const std::string id = "multiburst_" + std::to_string(++burst);
            if (e.mhz * 1e6 > 0.42 * sweep.rate_hz) continue;
            const double off = value(report, id.c_str()) - testsignal::wave_response_db(sweep.roll_off_mhz, e.mhz);
            ASSERT_FALSE(std::isnan(off)) << id;
            bias += off, squares += off * off, ++n;
            in_uncertainties += std::pow(off / *report.figures.find(id)->uncertainty(), 2);
        }
    }
    const double scatter = std::sqrt(squares / n);
    EXPECT_NEAR(bias / n, 0, 0.05 + 3 * scatter / std::sqrt(n));
    EXPECT_LT(std::sqrt(in_uncertainties / n), 1.7);
    EXPECT_LT(scatter, sweep.snr_db > 50 ? 0.05 : 0.15);  // 8 bits are 52 dB
}

INSTANTIATE_TEST_SUITE_P(Systems, Bursts,
                         testing::Values(BurstSweep{"PAL", 16e6, {}, 60}, BurstSweep{"PAL", 16e6, 6.0, 60},
                                         BurstSweep{"PAL", 13.5e6, 4.0, 46}, BurstSweep{"PAL", 28e6, 5.0, 36},
                                         BurstSweep{"NTSC", 13.5e6, 5.0, 60}, BurstSweep{"NTSC", 16e6, 3.0, 40},
                                         BurstSweep{"SECAM", 16e6, 5.0, 46}));

TEST(TestLinesAbsent, AreNotMadeUp) {
    const WaveformReport report = measured(video_recipe("PAL"), 8);
    for (const char* id : {"differential_gain", "differential_phase", "luma_nonlinearity", "k_factor_2t",
                           "chroma_luma_gain", "chroma_luma_delay", "multiburst", "multiburst_1"})
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
