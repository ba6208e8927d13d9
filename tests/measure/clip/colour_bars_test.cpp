// Colour bars: on made clips whose errors are known, on FFmpeg's own bars and on what its `hue` filter does to them;
// never on pictures without bars.
#include "measure/clip/colour_bars.h"

#include <gmock/gmock.h>

#include <cmath>

#include "measure/clip/bar_pattern.h"
#include "support/ffmpeg.h"
#include "support/measured_figures.h"

namespace guardband::measure {
namespace {

using support::measure_made;
using support::recipe_of;
using testing::HasSubstr;
using testsignal::TestPattern;

// Codes that the arithmetic of ITU-R BT.601 gives for 75 % bars, rounded, as they are printed in many places (from
// memory; check at ITU-R BT.1729): yellow 162 44 142, cyan 131 156 44, green 112 72 58, magenta 84 184 198, red 65 100
// 212, blue 35 212 114.
TEST(BarPatterns, AreThePrintedCodes) {
    const auto patterns = bar_patterns(support::luma_format(720, 576, 8), support::built_in());
    ASSERT_GE(patterns.size(), 3U);
    const auto& bars = *std::ranges::find(patterns, "100/0/75/0", &BarPattern::name);
    const std::vector<std::array<int, 3>> printed{{235, 128, 128}, {162, 44, 142}, {131, 156, 44}, {112, 72, 58},
                                                  {84, 184, 198},  {65, 100, 212}, {35, 212, 114}, {16, 128, 128}};
    ASSERT_EQ(bars.stripes.size(), printed.size());
    for (std::size_t i = 0; i < printed.size(); ++i) {
        EXPECT_EQ(std::lround(bars.stripes[i].luma), printed[i][0]) << i;
        EXPECT_EQ(std::lround(128 + bars.stripes[i].colour.real()), printed[i][1]) << i;
        EXPECT_EQ(std::lround(128 + bars.stripes[i].colour.imag()), printed[i][2]) << i;
    }
}

struct Wrong {
    const char* system;
    int bit_depth;
    TestPattern pattern;
    const char* name;
    double white_code, gain, phase_deg;
};
class BarsOver : public testing::TestWithParam<Wrong> {};

TEST_P(BarsOver, ErrorsAreWhatTheyWereMade) {
    const Wrong& p = GetParam();
    for (const std::uint64_t seed : {1, 2}) {
        testsignal::Recipe recipe = recipe_of(p.system, p.bit_depth, 0.25, seed);
        recipe.noise.snr_db = 40;
        recipe.blanking.emplace();
        recipe.test_picture.emplace().pattern = p.pattern;
        recipe.levels.white_code = p.white_code;
        recipe.levels.chroma_gain = p.gain, recipe.levels.chroma_phase_deg = p.phase_deg;
        const auto found = measure_made<ColourBars>(recipe);
        ASSERT_TRUE(found["bars_luma_error"].is_known()) << found["bars_luma_error"].reason();
        EXPECT_THAT(found["bars_luma_error"].note(), HasSubstr(p.name));
        // White errs most; at 75 % three quarters of that.
        const double white = p.pattern == TestPattern::Bars75_75 || p.pattern == TestPattern::SplitBars ? 0.75 : 1;
        EXPECT_NEAR(std::abs(found.number("bars_luma_error")), std::abs(white * (p.white_code - 235) / 219 * 100),
                    0.25);
        EXPECT_NEAR(found.number("bars_chroma_gain"), 20 * std::log10(p.gain), 0.05);
        EXPECT_NEAR(found.number("bars_chroma_phase"), p.phase_deg, 0.3);
        ASSERT_EQ(found.events.size(), 1U);
        EXPECT_EQ(found.events[0].kind, "colour bars");
    }
}

INSTANTIATE_TEST_SUITE_P(
    Grid, BarsOver,
    testing::Values(Wrong{"625/50", 10, TestPattern::Bars100_75, "bars 100/0/75/0", 235, 1, 0},
                    Wrong{"625/50", 8, TestPattern::Bars100_100, "bars 100/0/100/0", 228, 0.85, -6},
                    Wrong{"525/60", 10, TestPattern::SplitBars, "bars 75/0/75/0", 240, 1.12, 8},
                    Wrong{"525/60", 8, TestPattern::Bars75_75, "bars 75/0/75/0", 231, 0.7, 15},
                    // Colour as weak, or as strong, as that of another kind: the levels tell.
                    Wrong{"525/60", 10, TestPattern::Bars100_100, "bars 100/0/100/0", 225, 0.75, 12},
                    Wrong{"625/50", 8, TestPattern::Bars100_75, "bars 100/0/75/0", 231, 1.33, -5}));

TEST(ColourBars, AreFoundInAPartOfAClip) {
    testsignal::Recipe recipe = recipe_of("625/50", 10, 1.2, 3);
    recipe.test_picture.emplace();
    recipe.test_picture->from_s = 0.4, recipe.test_picture->until_s = 0.8;
    const auto found = measure_made<ColourBars>(recipe);
    ASSERT_EQ(found.events.size(), 1U);
    EXPECT_NEAR(static_cast<double>(*found.events[0].frame), 10, 5);
    EXPECT_NEAR(found.events[0].time_s, 0.4, 0.2);
    EXPECT_NEAR(found.number("bars_chroma_gain"), 0, 0.05);
}

TEST(ColourBars, AreNotFoundWhereThereAreNone) {
    for (const std::uint64_t seed : {1, 2, 3, 4, 5}) {
        testsignal::Recipe recipe = recipe_of(seed % 2 == 0 ? "525/60" : "625/50", 8, 0.2, seed);
        recipe.picture.tint = 0.2;
        const auto found = measure_made<ColourBars>(recipe);
        EXPECT_FALSE(found["bars_luma_error"].is_known());
        EXPECT_THAT(found["bars_luma_error"].reason(), HasSubstr("no colour bars"));
        EXPECT_TRUE(found.events.empty());
    }
    for (const TestPattern pattern : {TestPattern::Multiburst, TestPattern::PulseAndBar, TestPattern::Ramp}) {
        testsignal::Recipe recipe = recipe_of("625/50", 8, 0.1, 1);
        recipe.test_picture.emplace().pattern = pattern;
        EXPECT_FALSE(measure_made<ColourBars>(recipe)["bars_luma_error"].is_known());
    }
}

struct Generator {
    const char* source;
    const char* name;
    const char* filter;
    double gain_db, phase_deg;
};
class FFmpegsBars : public testing::TestWithParam<Generator> {};

// FFmpeg's generators, and its `hue` filter, which turns colours by h degrees and multiplies them by s.
TEST_P(FFmpegsBars, AreMeasuredAsMade) {
    GUARDBAND_NEEDS_FFMPEG();
    const Generator& p = GetParam();
    const std::string path = testing::TempDir() + "guardband_bars_" + p.source + ".mkv";
    support::ffmpeg(std::string("-y -f lavfi -i ") + p.source + "=s=720x576:r=25:d=0.4,format=yuv422p" + p.filter +
                    ",setpts=N/25/TB -c:v ffv1 " + path);
    const auto found = support::measure_file<ColourBars>(path);
    ASSERT_TRUE(found["bars_luma_error"].is_known()) << found["bars_luma_error"].reason();
    EXPECT_THAT(found["bars_luma_error"].note(), HasSubstr(p.name));
    EXPECT_NEAR(found.number("bars_luma_error"), 0, 0.5);
    EXPECT_NEAR(found.number("bars_chroma_gain"), p.gain_db, 0.1);
    EXPECT_NEAR(std::abs(found.number("bars_chroma_phase")), p.phase_deg, 0.5);
}

INSTANTIATE_TEST_SUITE_P(Generators, FFmpegsBars,
                         testing::Values(Generator{"pal75bars", "bars 100/0/75/0", "", 0, 0},
                                         Generator{"pal100bars", "bars 100/0/100/0", "", 0, 0},
                                         Generator{"smptebars", "bars 75/0/75/0", "", 0, 0},
                                         Generator{"pal100bars", "bars 100/0/100/0", ",hue=h=10:s=0.9", -0.915, 10}));

}  // namespace
}  // namespace guardband::measure
