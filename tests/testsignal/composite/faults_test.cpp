// Composite video: that each fault of a recipe is in the samples by the amount that the truth says.
#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

#include "small_reader.h"
#include "testsignal/composite/insertion.h"

namespace guardband::testsignal {
namespace {

constexpr double degrees = 180 / std::numbers::pi;

std::vector<LowPulse> lines_of(const std::vector<float>& mv) { return SmallReader(mv, -150, 60).pulses_of(75.2, 4); }

/// Insertion signal on every line, for what is measured on it.
CompositeRecipe full_field(InsertionSignal signal, std::int64_t rate_hz = 32'000'000) {
    CompositeRecipe recipe = plain_recipe("PAL", 0.001, rate_hz);
    recipe.picture.kind = CompositePicture::Insertion;
    recipe.picture.signal = signal;
    recipe.start_line = 101;
    return recipe;
}

TEST(CompositeFaults, LinesStandWhereTheTruthSays) {
    CompositeRecipe recipe = plain_recipe("625/50", 0.06);
    recipe.time_base.sine_ns = {400, 150};
    recipe.time_base.sine_hz = {25, 180};
    recipe.time_base.random_ns = 30;
    recipe.time_base.flagging_ns = 900;
    CompositeMaker maker(recipe);
    const auto lines = lines_of(composite_mv(recipe));
    ASSERT_GT(lines.size(), 850U);
    std::vector<double> edges;
    for (std::int64_t line = 0; line < 938; ++line) edges.push_back(maker.timeline().edge_sample(line));
    double squares = 0;
    for (const LowPulse& line : lines) {
        const auto next = std::ranges::lower_bound(edges, line.at - 500);
        ASSERT_NE(next, edges.end());
        ASSERT_NEAR(line.at, *next, 0.012) << "0.75 ns: what the reader makes of it";
        squares += std::pow(maker.timeline().displacement_ns(next - edges.begin()), 2);
    }
    EXPECT_GT(std::sqrt(squares / static_cast<double>(lines.size())), 300) << "the lines are displaced at all";
}

TEST(CompositeFaults, TruthOfTheTimeBaseIsThatOfTheSamples) {
    CompositeRecipe recipe = plain_recipe("625/50", 0.1);
    recipe.time_base.sine_ns = {300}, recipe.time_base.sine_hz = {35};
    recipe.time_base.random_ns = 50;
    CompositeMaker maker(recipe);
    std::vector<float> some;
    while (maker.next(some)) continue;
    const CompositeTruth truth = maker.truth();
    double scatter = 0;
    (void)SmallReader::period(lines_of(composite_mv(recipe)), 1024, scatter);
    EXPECT_NEAR(truth.time_base_error_rms_ns, scatter * 62.5, 6) << "the reader takes lines of the field interval too";
    EXPECT_NEAR(truth.line_jitter_rms_ns, 50, 3);
    EXPECT_GT(truth.counted_lines, 1350);
}

TEST(CompositeFaults, HeadSwitchStepsByItsSkewInItsPlace) {
    CompositeRecipe recipe = plain_recipe("625/50", 0.05);
    recipe.time_base.head_switch_line = 6.3;
    recipe.time_base.head_switch_steps_us = {2.0, -1.0};
    const auto lines = lines_of(composite_mv(recipe));
    std::vector<std::pair<double, double>> steps;  // line, µs
    for (std::size_t i = 1; i < lines.size(); ++i) {
        const double off = (lines[i].at - lines[i - 1].at - 1024) / 16;
        if (std::abs(off) < 20 && std::abs(off) > 0.2) steps.emplace_back((lines[i - 1].at) / 1024, off);
    }
    // Switches lie 6.3 lines before the broad pulses of fields 1, 2 and 3, at lines 312.5, 625 and 937.5.
    ASSERT_EQ(steps.size(), 2U) << testing::PrintToString(steps);
    EXPECT_NEAR(steps[0].first, 306, 0.6);
    EXPECT_NEAR(steps[0].second, -1.0, 0.02);
    EXPECT_NEAR(steps[1].first, 618, 0.9);
    EXPECT_NEAR(steps[1].second, 2.0, 0.02);
}

TEST(CompositeFaults, StableSubcarrierStaysWhenLinesMove) {
    for (const bool stable : {false, true}) {
        CompositeRecipe recipe = plain_recipe("PAL", 0.004);
        recipe.start_line = 101;
        recipe.picture.chroma_mv = 300;
        recipe.time_base.sine_ns = {50}, recipe.time_base.sine_hz = {250};
        recipe.time_base.stable_subcarrier = stable;
        const SmallReader reader(composite_mv(recipe), -150, 60);
        const double turns = 4433618.75 / 16e6;
        const auto at = [&](int line) { return reader.sine(line * 1024.0 + 400, line * 1024.0 + 800, turns, 0).z; };
        // Even lines have one V switch. 250 Hz at line 101 + 0 and + 46 differ by half a turn of the time base.
        double largest = 0;
        for (int line = 0; line < 60; line += 2) largest = std::max(largest, std::abs(std::arg(at(line) / at(0))));
        if (stable) {
            EXPECT_LT(largest * degrees, 0.1);
        } else {
            EXPECT_GT(largest * degrees, 90) << "100 ns are 160° of the subcarrier";
        }
    }
}

TEST(CompositeFaults, NoiseIsAsStrongAsTold) {
    CompositeRecipe clean = plain_recipe("625/50", 0.05), noisy = clean;
    noisy.disturbance.snr_db = 36;
    const auto a = composite_mv(clean), b = composite_mv(noisy);
    double squares = 0, neighbours = 0;
    for (std::size_t n = 1; n < a.size(); ++n) {
        squares += std::pow(b[n] - a[n], 2);
        neighbours += (b[n] - a[n]) * (b[n - 1] - a[n - 1]);
    }
    EXPECT_NEAR(20 * std::log10(700 / std::sqrt(squares / static_cast<double>(a.size() - 1))), 36, 0.05);
    EXPECT_NEAR(neighbours / squares, 0, 0.01) << "white";
}

TEST(CompositeFaults, HumCouplingPolarityAndLevel) {
    CompositeRecipe clean = plain_recipe("625/50", 0.06), bad = clean;
    const auto plain = composite_mv(clean);
    bad.disturbance.hum_mv = 200;
    const auto hum = composite_mv(bad);
    std::complex<double> sum;
    for (std::size_t n = 0; n < plain.size(); ++n)
        sum += std::polar(2.0 * (hum[n] - plain[n]), -2 * std::numbers::pi * 50 * static_cast<double>(n) / 16e6);
    EXPECT_NEAR(std::abs(sum) / static_cast<double>(plain.size()), 100, 0.01);

    bad = clean;
    bad.disturbance.coupling_hz = 100;
    const auto coupled = composite_mv(bad);
    const double mean = std::accumulate(coupled.end() - 320'000, coupled.end(), 0.0) / 320'000;
    EXPECT_NEAR(mean, 0, 2) << "AC coupling leaves no mean over a field";

    bad = clean;
    bad.sampling.inverted = true, bad.sampling.gain_per_volt = 0.5, bad.sampling.offset = 0.1;
    const auto turned = make_composite(bad);
    for (std::size_t n = 0; n < plain.size(); n += 37) ASSERT_NEAR(turned[n], -(0.1 + plain[n] / 2000), 1e-5);
}

TEST(CompositeFaults, DropoutsAreWhereTheTruthSays) {
    CompositeRecipe clean = plain_recipe("625/50", 0.05), bad = clean;
    bad.dropouts.per_minute = 12'000;
    bad.dropouts.at_s = {0.0123};
    CompositeMaker maker(bad);
    const auto truth = maker.truth().dropouts;
    EXPECT_NEAR(static_cast<double>(truth.size()), 11, 8);
    const auto a = composite_mv(clean), b = composite_mv(bad);
    for (std::size_t n = 0; n < a.size(); ++n) {
        const double t = static_cast<double>(n) / 16e6;
        const bool lost = std::ranges::any_of(
            truth, [&](const CompositeDropout& d) { return t >= d.start_s && t < d.start_s + d.length_us * 1e-6; });
        if (!lost) {
            ASSERT_EQ(a[n], b[n]) << n;
        }
    }
    EXPECT_NE(a[static_cast<std::size_t>(0.012305 * 16e6)], b[static_cast<std::size_t>(0.012305 * 16e6)]);
}

/// Amplitude and phase of the staircase's chroma on each step, and the heights of the steps.
struct Stairs {
    std::vector<double> chroma_mv, chroma_deg, step_mv;
};

Stairs stairs_of(const CompositeRecipe& recipe) {
    const SmallReader reader(composite_mv(recipe), -150, 100);
    const double per_us = recipe.sampling.rate_hz.value() / 1e6, turns = 4.43361875 / per_us;
    Stairs stairs;
    double before = 0;
    for (int step = -1; step < 5; ++step) {  // J.63: steps of 4 µs from 40 µs on
        const double from = (40 + 4 * step + 1.2) * per_us;
        const auto [z, level] = reader.sine(from, from + 1.8 * per_us, turns, 0);
        stairs.chroma_mv.push_back(2 * std::abs(z));
        stairs.chroma_deg.push_back(std::arg(z) * degrees);
        if (step >= 0) stairs.step_mv.push_back(level - before);
        before = level;
    }
    return stairs;
}

TEST(CompositeFaults, StaircaseShowsDifferentialGainPhaseAndNonlinearity) {
    CompositeRecipe recipe = full_field(InsertionSignal::BarPulseModulatedStaircase);
    const Stairs clean = stairs_of(recipe);
    for (int i = 0; i < 6; ++i) {
        EXPECT_NEAR(clean.chroma_mv[static_cast<std::size_t>(i)], 280, 0.3) << i;
        EXPECT_NEAR(std::remainder(clean.chroma_deg[static_cast<std::size_t>(i)] - clean.chroma_deg[0], 360), 0, 0.05);
    }
    for (const double step : clean.step_mv) EXPECT_NEAR(step, 140, 0.2);
    recipe.distortion.differential_gain_percent = 10;
    recipe.distortion.differential_phase_deg = 6;
    const Stairs bent = stairs_of(recipe);
    for (std::size_t i = 0; i < 6; ++i) {
        const double level = 0.2 * static_cast<double>(i);
        EXPECT_NEAR(bent.chroma_mv[i] / clean.chroma_mv[i], 1 + 0.1 * level, 0.001);
        EXPECT_NEAR(std::remainder(bent.chroma_deg[i] - clean.chroma_deg[i], 360), 6 * level, 0.03);
    }
    recipe.distortion = {};
    recipe.distortion.luma_nonlinearity_percent = 12;
    const auto steps = stairs_of(recipe).step_mv;
    const auto [least, most] = std::ranges::minmax(steps);
    EXPECT_NEAR((most - least) / most, 0.12, 0.002);
    EXPECT_NEAR(std::accumulate(steps.begin(), steps.end(), 0.0), 700, 0.5);
}

TEST(CompositeFaults, PulseAndBarAreThoseOfTheStandard) {
    const auto mv = composite_mv(full_field(InsertionSignal::BarPulseStaircase, 100'000'000));
    EXPECT_NEAR(*std::max_element(mv.begin() + 2500, mv.begin() + 2700), 700, 0.5);
    int above = 0;
    for (int n = 2500; n < 2700; ++n) above += mv[static_cast<std::size_t>(n)] > 350;
    EXPECT_NEAR(above / 100.0, 0.2, 0.011) << "the 2T pulse of 625 lines is 200 ns wide at half of its height";
    EXPECT_NEAR(mv[1700], 700, 0.5);  // the bar from 12 to 22 µs
    EXPECT_NEAR(mv[1150], 0, 0.5);
    EXPECT_NEAR(mv[2250], 0, 0.5);
}

TEST(CompositeFaults, EchoStandsBehindThePulseByItsDelay) {
    CompositeRecipe recipe = full_field(InsertionSignal::BarPulseStaircase, 16'000'000);
    const auto clean = composite_mv(recipe);
    for (const double delay_ns : {200.0, 430.0, 800.0}) {
        recipe.distortion.echo_percent = 5;
        recipe.distortion.echo_delay_ns = delay_ns;
        const auto heard = composite_mv(recipe);
        // Centre of gravity and area of what was added, against those of the 2T pulse at 26 µs.
        double sum = 0, moment = 0;
        for (int n = 380; n < 450; ++n) {
            const double added = heard[static_cast<std::size_t>(n)] - clean[static_cast<std::size_t>(n)];
            sum += added, moment += added * n / 16.0;
        }
        EXPECT_NEAR(sum / 16, 0.05 * 700 * 0.2, 0.05) << delay_ns;
        EXPECT_NEAR(moment / sum - 26, delay_ns / 1e3, 0.01) << delay_ns;
    }
}

TEST(CompositeFaults, ChromaIsLateAndWeakAsTold) {
    CompositeRecipe recipe = full_field(InsertionSignal::BarPulseStaircase, 64'000'000);
    recipe.distortion.chroma_delay_ns = 100;
    recipe.distortion.chroma_gain_percent = -20;
    const auto mv = composite_mv(recipe);
    // The 20T pulse at 32 µs: its chroma's envelope by its centre of gravity; the luma's stays.
    double chroma = 0, chroma_moment = 0, luma = 0, luma_moment = 0;
    const double turns = 4.43361875 / 64;
    const int window = static_cast<int>(std::round(2 / turns)) | 1;  // two cycles
    for (int n = 29 * 64; n < 35 * 64; ++n) {
        std::complex<double> z;
        double level = 0;
        for (int i = -window / 2; i < window - window / 2; ++i) {
            z += std::polar(2.0 * mv[static_cast<std::size_t>(n + i)], -2 * std::numbers::pi * turns * (n + i));
            level += mv[static_cast<std::size_t>(n + i)];
        }
        chroma += std::abs(z) / window, chroma_moment += std::abs(z) / window * n / 64.0;
        luma += level / window, luma_moment += level / window * n / 64.0;
    }
    EXPECT_NEAR(luma_moment / luma, 32, 0.004);
    EXPECT_NEAR(chroma_moment / chroma, 32.1, 0.01);
    EXPECT_NEAR(chroma / luma, 0.8, 0.02);
}

}  // namespace
}  // namespace guardband::testsignal
