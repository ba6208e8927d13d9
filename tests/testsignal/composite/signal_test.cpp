// Composite video: that levels, widths, edges and rates are the standards', whatever the sampling rate. What is
// expected stands here, not taken from the table that the maker reads.
#include <gmock/gmock.h>

#include <cmath>
#include <ostream>

#include "small_reader.h"

namespace guardband::testsignal {
namespace {

/// ITU-R BT.470-6 table 1 and CCIR Report 308 (systems A and E), from memory: µs, mV, Hz.
struct Expected {
    const char* system;
    double line_rate_hz;
    double sync_us, equalising_us, broad_us;
    int equalising, broad;  ///< per field, equalising on both sides
    double sync_mv, black_mv, white_mv;
    double front_porch_us, picture_us;

    friend std::ostream& operator<<(std::ostream& out, const Expected& e) { return out << e.system; }
};

constexpr double ntsc_line_hz = 4.5e6 / 286;

const Expected expected[] = {
    {"PAL", 15625, 4.7, 2.35, 27.3, 10, 5, -300, 0, 700, 1.5, 10.5},
    {"SECAM", 15625, 4.7, 2.35, 27.3, 10, 5, -300, 0, 700, 1.5, 10.5},
    {"625/50", 15625, 4.7, 2.35, 27.3, 10, 5, -300, 0, 700, 1.5, 10.5},
    {"NTSC", ntsc_line_hz, 4.7, 2.35, 27.1, 12, 6, -2000.0 / 7, 375.0 / 7, 5000.0 / 7, 1.5, 9.4},
    {"NTSC-J", ntsc_line_hz, 4.7, 2.35, 27.1, 12, 6, -2000.0 / 7, 0, 5000.0 / 7, 1.5, 9.4},
    {"PAL-M", ntsc_line_hz, 4.7, 2.35, 27.1, 12, 6, -2000.0 / 7, 375.0 / 7, 5000.0 / 7, 1.5, 9.4},
    {"405/50", 10125, 9.0, 0, 40, 0, 8, -300, 0, 700, 1.75, 16.25},
    {"819/50", 20475, 2.5, 0, 20, 0, 1, -300, 0, 700, 0.8, 8.7},
};

class CompositeSignal : public testing::TestWithParam<std::tuple<Expected, std::int64_t>> {};

TEST_P(CompositeSignal, HasTheStandardsTiming) {
    const auto& [e, rate] = GetParam();
    CompositeRecipe recipe = plain_recipe(e.system, 0.08, rate);
    const double per_us = static_cast<double>(rate) / 1e6;
    const SmallReader reader(composite_mv(recipe), e.sync_mv / 2, 1.2 * per_us);
    const auto lines = reader.pulses_of(e.sync_us * per_us, 0.6 * per_us);
    double scatter = 0;
    const double period = SmallReader::period(lines, static_cast<double>(rate) / e.line_rate_hz, scatter);
    EXPECT_NEAR(static_cast<double>(rate) / period / e.line_rate_hz, 1, 1e-8);
    EXPECT_LT(scatter, 0.035) << "samples: no more than the reader's own where an edge has five of them";
    for (const LowPulse& line : lines) ASSERT_NEAR(line.width / per_us, e.sync_us, 0.003);
    if (e.equalising > 0) {
        const auto narrow = reader.pulses_of(e.equalising_us * per_us, 0.3 * per_us);
        EXPECT_NEAR(static_cast<double>(narrow.size()), 4.0 * e.equalising, e.equalising) << "four fields";
        for (const LowPulse& one : narrow) ASSERT_NEAR(one.width / per_us, e.equalising_us, 0.003);
    }
    const auto broad = reader.pulses_of(e.broad_us * per_us, 2 * per_us);
    EXPECT_NEAR(static_cast<double>(broad.size()), 4.0 * e.broad, e.broad + 1);
    for (const LowPulse& one : broad) ASSERT_NEAR(one.width / per_us, e.broad_us, 0.003);
}

INSTANTIATE_TEST_SUITE_P(Systems, CompositeSignal,
                         testing::Combine(testing::ValuesIn(expected),
                                          testing::Values(13'500'000, 16'000'000, 28'636'363)),
                         [](const auto& one) {
                             std::string name = std::get<0>(one.param).system;
                             for (char& c : name)
                                 if (!std::isalnum(static_cast<unsigned char>(c))) c = '_';
                             return name + "_" + std::to_string(std::get<1>(one.param) / 1000);
                         });

TEST(CompositeSignal, HasTheStandardsLevels) {
    for (const Expected& e : expected) {
        CompositeRecipe recipe = plain_recipe(e.system, 0.01);
        recipe.start_line = 100;
        const double per_us = 16;
        if (recipe.system.kind == ColourKind::Frequency) continue;  // its subcarrier lies over all levels
        for (const double percent : {0.0, 100.0}) {
            recipe.picture.level_percent = percent;
            const SmallReader reader(composite_mv(recipe), e.sync_mv / 2, 20);
            const LowPulse line = reader.pulses().at(3);
            EXPECT_NEAR(reader.level(line.at + 0.5 * per_us, line.at + (e.sync_us - 0.5) * per_us), e.sync_mv, 1e-3);
            EXPECT_NEAR(reader.level(line.at - 0.5 * per_us, line.at - 0.3 * per_us), 0, 1e-3) << e.system;
            const double picture = e.black_mv + percent / 100 * (e.white_mv - e.black_mv);
            EXPECT_NEAR(reader.level(line.at + 22 * per_us, line.at + 30 * per_us), picture, 1e-2) << e.system;
        }
    }
}

/// First moment after `from` at which the signal passes a level, by straight lines.
double passes(const std::vector<float>& mv, double from, double level) {
    const bool above = mv.at(static_cast<std::size_t>(from)) > level;
    for (auto n = static_cast<std::size_t>(from);; ++n)
        if ((mv.at(n + 1) > level) != above) return static_cast<double>(n) + (level - mv[n]) / (mv[n + 1] - mv[n]);
}

TEST(CompositeSignal, EdgesTakeTheStandardsTimeAndStandInTheRightPlace) {
    CompositeRecipe recipe = plain_recipe("625/50", 0.002, 100'000'000);
    recipe.start_line = 100;
    recipe.picture.level_percent = 100;
    const auto mv = composite_mv(recipe);
    const SmallReader reader(mv, -150, 200);
    const LowPulse line = reader.pulses().at(2);
    EXPECT_NEAR((passes(mv, line.at - 80, -270) - passes(mv, line.at - 80, -30)) / 100, 0.2, 0.001);
    const double up_90 = passes(mv, line.at + 900, 630), up_10 = passes(mv, line.at + 900, 70);
    EXPECT_NEAR((up_90 - up_10) / 100, 0.3, 0.001);
    EXPECT_NEAR((passes(mv, line.at + 900, 350) - line.at) / 100, 10.5, 0.002);
    EXPECT_NEAR((passes(mv, line.at + 3000, 350) - line.at) / 100, 64 - 1.5, 0.002);
}

TEST(CompositeSignal, SamplesAtAnyRateShowOneSignal) {
    // 30 MS/s holds every third sample of 10 MS/s: those must be alike to the last bits.
    CompositeRecipe coarse = plain_recipe("PAL", 0.005, 10'000'000);
    coarse.picture.kind = CompositePicture::Bars;
    coarse.time_base.sine_ns = {300}, coarse.time_base.sine_hz = {700};
    CompositeRecipe fine = coarse;
    fine.sampling.rate_hz = 30'000'000;
    const auto few = composite_mv(coarse), many = composite_mv(fine);
    ASSERT_EQ(many.size(), 3 * few.size());
    for (std::size_t n = 0; n < few.size(); ++n) ASSERT_NEAR(few[n], many[3 * n], 2e-3) << n;
}

TEST(CompositeSignal, PhaseIsExactAfterHours) {
    // 1.8 · 10⁹ samples and 1.1 · 10⁸ lines in. PAL repeats after 4 frames, the samples of 17.734475 MHz after one.
    CompositeRecipe early = plain_recipe("PAL", 0.002, 17'734'475);
    early.picture.kind = CompositePicture::Bars;
    CompositeRecipe late = early;
    late.start_frame = 4 * 45'000;  // two hours
    const auto a = composite_mv(early), b = composite_mv(late);
    ASSERT_EQ(a.size(), b.size());
    for (std::size_t n = 0; n < a.size(); ++n) ASSERT_NEAR(a[n], b[n], 1e-3) << n;
    const Timeline timeline(late);
    LineRun run;
    run.line = late.start_frame * 625 + 1'000'000'007;
    // (1135/4 + 1/625) · line, whole turns left out: 709379 · line mod 2500, in whole numbers.
    const double turns = static_cast<double>((709'379LL % 2500) * (run.line % 2500) % 2500) / 2500;
    EXPECT_NEAR(std::remainder(timeline.subcarrier_turns(run) - turns, 1.0), 0, 1e-9);
}

TEST(CompositeSignal, ClockErrorStretchesAll) {
    CompositeRecipe recipe = plain_recipe("625/50", 0.04);
    recipe.sampling.clock_error_ppm = 50;
    const SmallReader reader(composite_mv(recipe), -150, 60);
    double scatter = 0;
    EXPECT_NEAR(SmallReader::period(reader.pulses_of(75.2, 5), 1024, scatter) / 1024 - 1, 50e-6, 2e-8);
    EXPECT_LT(scatter, 0.02);
}

}  // namespace
}  // namespace guardband::testsignal
