// Multiburst, ramp, pulse and bar: on made test pictures, on drawn lines, on FFmpeg's; never on other pictures.
#include "measure/clip/test_pictures.h"

#include <gmock/gmock.h>

#include <cmath>
#include <random>

#include "support/ffmpeg.h"
#include "support/measured_figures.h"

namespace guardband::measure {
namespace {

using support::measure_made;
using support::recipe_of;
using testing::HasSubstr;
using testsignal::TestPattern;

testsignal::Recipe showing(TestPattern pattern, double luma_mhz, double snr_db, int bit_depth = 10) {
    testsignal::Recipe recipe = recipe_of("625/50", bit_depth, 0.24, 5);
    recipe.noise.snr_db = snr_db;
    recipe.test_picture.emplace().pattern = pattern;
    recipe.picture.luma_bandwidth_mhz = luma_mhz;
    return recipe;
}

TEST(TestPictures, ReadsAMultiburst) {
    for (const int bit_depth : {8, 10}) {
        const auto wide = measure_made<TestPictures>(showing(TestPattern::Multiburst, 20, 40, bit_depth));
        ASSERT_TRUE(wide["multiburst_error"].is_known()) << wide["multiburst_error"].reason();
        EXPECT_NEAR(wide.number("multiburst_error"), 0, 0.1);
        EXPECT_THAT(wide["multiburst_error"].note(), HasSubstr("0.5 MHz 0.0, 1 MHz"));
        EXPECT_THAT(wide["multiburst_error"].note(), HasSubstr("5 MHz"));
        ASSERT_EQ(wide.events.size(), 1U);
        EXPECT_THAT(wide.events[0].what, HasSubstr("multiburst from frame 0"));
    }
    // The recipe's low-pass halves the burst of 4 MHz, and nothing is left of that of 5.
    const auto narrow = measure_made<TestPictures>(showing(TestPattern::Multiburst, 4, 40));
    EXPECT_NEAR(narrow.number("multiburst_error"), -6.02, 0.2);
}

TEST(TestPictures, ReadsAPulseAndABar) {
    const auto wide = measure_made<TestPictures>(showing(TestPattern::PulseAndBar, 20, 40));
    ASSERT_TRUE(wide["pulse_bar_ratio"].is_known()) << wide["pulse_bar_ratio"].reason();
    EXPECT_NEAR(wide.number("pulse_bar_ratio"), 100, 1.5);
    EXPECT_THAT(wide["pulse_bar_ratio"].note(), HasSubstr("20"));  // 200 ns and some
    EXPECT_LT(measure_made<TestPictures>(showing(TestPattern::PulseAndBar, 2.5, 40)).number("pulse_bar_ratio"), 92);
}

TEST(TestPictures, ReadsARamp) {
    const auto straight = measure_made<TestPictures>(showing(TestPattern::Ramp, 5, 40));
    ASSERT_TRUE(straight["ramp_nonlinearity"].is_known()) << straight["ramp_nonlinearity"].reason();
    EXPECT_LT(straight.number("ramp_nonlinearity"), 0.2);
}

// A parabola's largest departure from its straight line of best fit, as means over eighths: the ramp x + b x (1 - x)
// departs by b (1/6 - mean of x (1 - x)): 0.1146 b in the outermost eighths.
TEST(TestPictures, ReadsHowFarARampIsBent) {
    std::vector<float> line(720);
    for (const double bend : {0.05, 0.2}) {
        for (std::size_t i = 0; i < line.size(); ++i) {
            const double x = (static_cast<double>(i) - 144) / 432;  // the middle three fifths
            line[i] = static_cast<float>(50 + 120 * (x + bend * x * (1 - x)));
        }
        const auto ramp = find_ramp(line);
        ASSERT_TRUE(ramp);
        EXPECT_NEAR(ramp->nonlinearity, 0.1094 * bend, 0.005 * bend + 1e-4) << bend;
    }
}

TEST(TestPictures, AreNotFoundElsewhere) {
    const auto nothing = [](const support::MeasuredFigures& found) {
        for (const char* id : {"multiburst_error", "ramp_nonlinearity", "pulse_bar_ratio"})
            EXPECT_FALSE(found[id].is_known()) << id;
        EXPECT_TRUE(found.events.empty());
    };
    for (const std::uint64_t seed : {1, 2, 3}) nothing(measure_made<TestPictures>(recipe_of("525/60", 8, 0.2, seed)));
    nothing(measure_made<TestPictures>(showing(TestPattern::Bars100_75, 5, 40)));
    nothing(measure_made<TestPictures>(showing(TestPattern::SplitBars, 5, 40)));
}

// Drawn by FFmpeg's expressions: five bursts, the third of half the amplitude.
TEST(TestPictures, AgreesWithBurstsThatFFmpegDraws) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string path = testing::TempDir() + "guardband_bursts.mkv";
    support::ffmpeg(
        "-y -f lavfi -i \"color=s=720x576:r=25:d=0.2,format=gray,geq=lum='128+if(eq(floor(X/144),2),30,60)*"
        "sin(2*PI*X*(1+floor(X/144))/13.5)'\" -vf format=yuv422p -c:v ffv1 " +
        path);
    const auto found = support::measure_file<TestPictures>(path);
    ASSERT_TRUE(found["multiburst_error"].is_known()) << found["multiburst_error"].reason();
    EXPECT_NEAR(found.number("multiburst_error"), -6.02, 0.15);
    EXPECT_THAT(found["multiburst_error"].note(), HasSubstr("3 MHz -6."));
}

}  // namespace
}  // namespace guardband::measure
