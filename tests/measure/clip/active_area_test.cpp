// Where the picture lies in the raster: on clips whose blanking and padding are known because they were made so, and on
// clips that FFmpeg padded.
#include "measure/clip/active_area.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <random>

#include "support/ffmpeg.h"
#include "support/measured_figures.h"

namespace guardband::measure {
namespace {

using support::measure_made;
using support::recipe_of;
using testing::HasSubstr;

struct Blanked {
    const char* system;
    int bit_depth;
    double left_px, right_px, snr_db;
};
class ActiveAreaOver : public testing::TestWithParam<Blanked> {};

// The recipe counts from the first sample's middle to the half of the edge, the figure in samples from the raster's
// end: half a sample more.
TEST_P(ActiveAreaOver, FindsAnalogueBlankingWithinHalfASample) {
    const Blanked& p = GetParam();
    for (const std::uint64_t seed : {1U, 2U, 3U}) {
        testsignal::Recipe recipe = recipe_of(p.system, p.bit_depth, 0.2, seed);
        recipe.noise.snr_db = p.snr_db;
        recipe.blanking.emplace();
        recipe.blanking->left_px = p.left_px, recipe.blanking->right_px = p.right_px;
        const auto found = measure_made<ActiveArea>(recipe);
        EXPECT_NEAR(found.number("active_left"), p.left_px + 0.5, 0.5) << seed;
        EXPECT_NEAR(found.number("active_right"), p.right_px + 0.5, 0.5) << seed;
        EXPECT_EQ(found.number("active_top"), 0);
        EXPECT_EQ(found.number("active_bottom"), 0);
        EXPECT_TRUE(found.events.empty());
    }
}

INSTANTIATE_TEST_SUITE_P(Grid, ActiveAreaOver,
                         testing::Values(Blanked{"625/50", 10, 9, 9, 42}, Blanked{"625/50", 8, 4.3, 11.6, 34},
                                         Blanked{"525/60", 10, 14.2, 3.5, 30}, Blanked{"525/60", 8, 8, 8, 40}));

TEST(ActiveArea, IsAllOfThePictureWithoutBlanking) {
    testsignal::Recipe recipe = recipe_of("625/50", 10, 0.2, 4);
    recipe.noise.snr_db = 40;
    const auto found = measure_made<ActiveArea>(recipe);
    for (const char* id : {"active_left", "active_right", "active_top", "active_bottom"})
        EXPECT_LT(found.number(id), 0.6) << id;
    EXPECT_TRUE(found.events.empty());
}

// Captures of 608 and 512 lines hold vertical blanking above the picture, and data lines in it.
TEST(ActiveArea, BeginsUnderVerticalBlankingThatWasCaptured) {
    for (const auto& [system, height] : {std::pair{"625/50", 608}, std::pair{"525/60", 512}}) {
        testsignal::Recipe recipe = recipe_of(system, 10, 0.2, 6);
        recipe.raster.height = height;
        recipe.noise.snr_db = 40;
        recipe.padding.emplace().top_lines = 32;
        const auto found = support::measure_edited<ActiveArea>(recipe, [](std::vector<std::uint16_t>& luma, auto) {
            for (std::size_t y : {2U, 3U, 19U, 20U})
                for (std::size_t x = 0; x < 720; ++x) luma[y * 720 + x] = x / 7 % 2 == 0 ? 64 : 600;
        });
        EXPECT_EQ(found.number("active_top"), 32) << height;
        EXPECT_EQ(found.number("active_bottom"), 0) << height;
        ASSERT_EQ(found.events.size(), 1U) << height;
        EXPECT_THAT(found.events[0].what, HasSubstr("vertical blanking"));
    }
}

TEST(ActiveArea, SaysWhatAConverterDidToTheRaster) {
    testsignal::Recipe recipe = recipe_of("525/60", 10, 0.2, 5);
    recipe.noise.snr_db = 40;
    auto& padding = recipe.padding.emplace();
    padding.left_px = padding.right_px = 8, padding.top_lines = 4, padding.bottom_lines = 2;
    const auto found = measure_made<ActiveArea>(recipe);
    EXPECT_EQ(found.number("active_left"), 8);
    EXPECT_EQ(found.number("active_right"), 8);
    EXPECT_EQ(found.number("active_top"), 4);
    EXPECT_EQ(found.number("active_bottom"), 2);
    ASSERT_EQ(found.events.size(), 1U);
    EXPECT_EQ(found.events[0].kind, "raster");
    EXPECT_THAT(found.events[0].what, HasSubstr("704 samples of picture in a raster of 720"));
    EXPECT_THAT(found.events[0].what, HasSubstr("480 lines of picture in a raster of 486"));
}

// 720 samples of 59/54 over 576 - 144 lines.
TEST(ActiveArea, SaysTheShapeOfAPictureBetweenBars) {
    testsignal::Recipe recipe = recipe_of("625/50", 10, 0.2, 6);
    recipe.padding.emplace();
    recipe.padding->top_lines = recipe.padding->bottom_lines = 72;
    const auto found = measure_made<ActiveArea>(recipe);
    EXPECT_EQ(found.number("active_top"), 72);
    ASSERT_EQ(found.events.size(), 1U);
    EXPECT_THAT(found.events[0].what, HasSubstr("1.82 times as wide as high"));
}

TEST(ActiveArea, CantTellInTheDark) {
    testsignal::Recipe recipe = recipe_of("625/50", 10, 0.2, 7);
    recipe.levels.white_code = 20;
    const auto found = measure_made<ActiveArea>(recipe);
    EXPECT_FALSE(found["active_left"].is_known());
    EXPECT_THAT(found["active_left"].reason(), HasSubstr("too dark"));
}

// A lit face before a dark wall that fades into black towards both sides, in a light that comes and goes.
TEST(ActiveArea, DoesNotTakeAPictureThatGrowsDarkForBlanking) {
    testsignal::Recipe recipe = recipe_of("625/50", 10, 0.4, 8);
    const auto found = support::measure_edited<ActiveArea>(recipe, [](std::vector<std::uint16_t>& luma, auto index) {
        std::mt19937 noise(1);
        const double light = index % 4 == 0 ? 2 : 0.4;
        for (std::size_t i = 0; i < luma.size(); ++i) {
            const auto from_side = static_cast<double>(std::min(i % 720, 719 - i % 720));
            const double wall = std::max(0.0, from_side - 13), face = from_side > 260 ? 500 : 0;
            luma[i] = static_cast<std::uint16_t>(84 + light * wall + face + static_cast<double>(noise() % 17));
        }
    });
    EXPECT_FALSE(found["active_left"].is_known());
    EXPECT_FALSE(found["active_right"].is_known());
}

TEST(ActiveArea, DoesNotTakeTheBlackBarForBlanking) {
    testsignal::Recipe recipe = recipe_of("625/50", 10, 0.2, 8);
    recipe.test_picture.emplace();
    const auto found = measure_made<ActiveArea>(recipe);
    EXPECT_EQ(found.number("active_left"), 0);
    EXPECT_FALSE(found["active_right"].is_known());
}

// Titles that begin one under the other, on black, and end anywhere.
TEST(ActiveArea, DoesNotTakeTitlesForAPictureBetweenBars) {
    const auto found = support::measure_edited<ActiveArea>(
        recipe_of("625/50", 10, 0.2, 9), [](std::vector<std::uint16_t>& luma, std::int64_t) {
            std::ranges::fill(luma, std::uint16_t{64});
            for (std::size_t y = 40; y < 540; ++y)
                for (std::size_t x = 120; x < 400 + y / 40 % 3 * 40 && y % 40 < 26; ++x)
                    luma[720 * y + x] = x / 6 % 2 == 0 ? 900 : 64;
        });
    EXPECT_FALSE(found["active_left"].is_known());
    EXPECT_FALSE(found["active_right"].is_known());
}

// Three lines of letters at a time, all as wide, roll up.
TEST(ActiveArea, DoesNotTakeRollingTitlesForAPictureBetweenBars) {
    const auto found = support::measure_edited<ActiveArea>(
        recipe_of("625/50", 10, 0.4, 9), [](std::vector<std::uint16_t>& luma, std::int64_t index) {
            std::ranges::fill(luma, std::uint16_t{64});
            for (std::size_t y = 0; y < 576; ++y) {
                const std::size_t row = y + 60 * static_cast<std::size_t>(index);
                for (std::size_t x = 190; x < 490 && row % 640 < 120 && row % 40 < 26; ++x)
                    luma[720 * y + x] = x / 6 % 2 == 0 ? 900 : 64;
            }
        });
    EXPECT_FALSE(found["active_left"].is_known());
    EXPECT_FALSE(found["active_right"].is_known());
}

TEST(ActiveArea, SaysWhyNotWhenThereIsNothing) {
    support::MadeContext made;
    ActiveArea measurement(made.context);
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    EXPECT_FALSE(figures.find("active_top")->reason().empty());
}

// FFmpeg's `pad` filter puts exactly so much black around its test source.
TEST(ActiveArea, AgreesWithFFmpegsPadding) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string path = testing::TempDir() + "guardband_padded.mkv";
    support::ffmpeg(
        "-y -f lavfi -i testsrc2=s=704x560:r=25:d=0.4,format=yuv422p10,pad=720:576:6:10,setpts=N/25/TB -c:v ffv1 " +
        path);
    const auto found = support::measure_file<ActiveArea>(path);
    EXPECT_NEAR(found.number("active_left"), 6, 0.5);
    EXPECT_NEAR(found.number("active_right"), 10, 0.5);
    EXPECT_NEAR(found.number("active_top"), 10, 0.5);
    EXPECT_NEAR(found.number("active_bottom"), 6, 0.5);
}

}  // namespace
}  // namespace guardband::measure
