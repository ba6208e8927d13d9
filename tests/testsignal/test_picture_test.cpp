#include "testsignal/test_picture.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "testsignal/clip_maker.h"

namespace guardband::testsignal {
namespace {

Recipe showing(TestPattern pattern) {
    Recipe recipe;
    recipe.duration_s = 0.04;
    recipe.picture.luma_bandwidth_mhz = 6;
    recipe.test_picture.emplace().pattern = pattern;
    return recipe;
}

Picture drawn(const Recipe& recipe) {
    Picture picture;
    TestPicture(recipe, 0).render(Rows::All, picture);
    return picture;
}

// Levels that the arithmetic of ITU-R BT.601 gives: luma of 75 % yellow is 0.75 (0.299 + 0.587), C_B 0.75 (0 - 0.886) /
// 1.772, C_R 0.75 (1 - 0.886) / 1.402.
TEST(TestPicture, HasBarsOfTheRightLevels) {
    const Picture bars = drawn(showing(TestPattern::Bars100_75));
    EXPECT_NEAR(bars.luma.row(100)[45], 1, 1e-3);
    EXPECT_NEAR(bars.luma.row(100)[135], 0.75 * 0.886, 1e-3);
    EXPECT_NEAR(bars.cb.row(100)[67], -0.75 * 0.886 / 1.772, 1e-3);
    EXPECT_NEAR(bars.cr.row(100)[67], 0.75 * 0.114 / 1.402, 1e-3);
    EXPECT_NEAR(bars.luma.row(500)[675], 0, 1e-3);
}

/// Where a row crosses the middle between two of its levels, samples.
double crossing(const float* row, int from, int to) {
    const float half = (row[from] + row[to]) / 2;
    for (int x = from; x < to; ++x)
        if ((row[x] - half) * (row[x + 1] - half) <= 0)
            return x + static_cast<double>((half - row[x]) / (row[x + 1] - row[x]));
    return -1;
}

TEST(TestPicture, ColourIsLateByTheDelay) {
    Recipe recipe = showing(TestPattern::Bars100_100);
    const Picture prompt = drawn(recipe);
    recipe.picture.chroma_delay_ns = 200;
    const Picture late = drawn(recipe);
    const double px = 200e-9 * recipe.raster.luma_sampling_hz;
    EXPECT_NEAR(2 * (crossing(late.cb.row(9), 25, 65) - crossing(prompt.cb.row(9), 25, 65)), px, 0.05);
    EXPECT_NEAR(crossing(late.luma.row(9), 50, 130), crossing(prompt.luma.row(9), 50, 130), 1e-6);
}

TEST(TestPicture, HasBurstsAtTheirFrequenciesAndTheFilterReducesThem) {
    Recipe recipe = showing(TestPattern::Multiburst);
    recipe.picture.luma_bandwidth_mhz = 4;
    const Picture picture = drawn(recipe);
    const auto amplitude = [&](double mhz, int packet) {
        const int from = static_cast<int>(720 * (0.12 + (packet + 0.25) * 0.88 / 6)), count = 54;
        double re = 0, im = 0, gain = 0;
        for (int i = 0; i < count; ++i) {
            const double phase = 2 * std::numbers::pi * mhz / 13.5 * i,
                         window = std::pow(std::sin(std::numbers::pi * (i + 0.5) / count), 2);
            re += window * (picture.luma.row(5)[from + i] - 0.5) * std::cos(phase);
            im += window * (picture.luma.row(5)[from + i] - 0.5) * std::sin(phase), gain += window / 2;
        }
        return std::hypot(re, im) / gain;
    };
    EXPECT_NEAR(amplitude(1, 1), 0.25, 0.01);
    EXPECT_NEAR(amplitude(2, 2), 0.25, 0.01);
    EXPECT_NEAR(amplitude(4, 4), 0.125, 0.02);
    EXPECT_LT(amplitude(5, 5), 0.03);
}

TEST(TestPicture, ReplacesTheSceneForItsTimeAndColoursAreTurned) {
    Recipe recipe = showing(TestPattern::Bars100_100);
    recipe.duration_s = 0.2;
    recipe.test_picture->until_s = 0.08;
    recipe.levels.chroma_phase_deg = 90, recipe.levels.chroma_gain = 0.5;
    ClipMaker maker(recipe);
    ClipFrame first, later;
    maker.make(0, first), maker.make(3, later);
    EXPECT_NE(first.planes[0].samples, later.planes[0].samples);
    // Yellow's C_B of -0.5 becomes a C_R of -0.25.
    EXPECT_NEAR(first.planes[2].row(50)[67], 4 * (128 - 0.25 * 224), 12);
}

TEST(Padding, IsBlackWithHardEdges) {
    Recipe recipe;
    recipe.duration_s = 0.04;
    recipe.noise.snr_db = 30;
    auto& padding = recipe.padding.emplace();
    padding.left_px = 8, padding.bottom_lines = 3;
    ClipMaker maker(recipe);
    ClipFrame frame;
    maker.make(0, frame);
    for (int x = 0; x < 8; ++x) EXPECT_EQ(frame.planes[0].row(100)[x], 64);
    EXPECT_EQ(frame.planes[1].row(100)[3], 512);
    EXPECT_EQ(frame.planes[0].row(574)[400], 64);
    EXPECT_NE(frame.planes[0].row(100)[8], 64);
}

}  // namespace
}  // namespace guardband::testsignal
