// What is no composite video is refused, saying what it is; what is too short gives reasons.
#include <gmock/gmock.h>

#include <cmath>
#include <numbers>

#include "measure/waveform/made_video.h"
#include "support/table_questions.h"
#include "testsignal/gaussian_noise.h"

namespace guardband::measure {
namespace {

using testing::HasSubstr;

std::string fault(std::vector<float> samples, double rate_hz) {
    return support::fault_of([&] { measured(std::move(samples), rate_hz); });
}

std::vector<float> sine(double hz, double rate_hz, double seconds) {
    std::vector<float> samples;
    for (int i = 0; i < static_cast<int>(seconds * rate_hz); ++i)
        samples.push_back(0.5F * static_cast<float>(std::sin(2 * std::numbers::pi * hz * i / rate_hz)));
    return samples;
}

TEST(NoVideo, IsNamedForWhatItIs) {
    EXPECT_THAT(fault(std::vector<float>(4'000'000, 0.2F), 16e6), HasSubstr("silence"));
    std::vector<float> noise(4'000'000);
    testsignal::Random(3).fill_gaussian(noise);
    EXPECT_THAT(fault(noise, 16e6), HasSubstr("but noise"));
    EXPECT_THAT(fault(sine(1000, 16e6, 0.2), 16e6), HasSubstr("changes slowly"));
    EXPECT_THAT(fault(sine(1000, 48'000, 2), 48'000), HasSubstr("48 kHz is no rate for samples of video"));
    EXPECT_NE(fault(sine(15'625, 16e6, 0.2), 16e6), "none") << "a tone at the line rate is no video";
    EXPECT_THAT(fault({}, 16e6), HasSubstr("holds only 0 ms"));
    EXPECT_THAT(fault(std::vector<float>(4000, 0.5F), 16e6), HasSubstr("holds only 0.25 ms"));
}

TEST(WrongRate, IsSaidWithWhatItMayBe) {
    const std::vector<float> samples = video_samples(video_recipe("PAL"), 8);
    EXPECT_THAT(fault(samples, 28e6), HasSubstr("16 MHz if it is 625/50"));
    EXPECT_THAT(fault(samples, 16'000), HasSubstr("16 MHz if it is 625/50"));
}

TEST(ShortVideo, GivesFiguresWithReasons) {
    auto recipe = video_recipe("PAL");
    recipe.duration_s = 0.012;
    recipe.start_line = 40;
    const WaveformReport report = measured(recipe, 8);
    EXPECT_NEAR(value(report, "line_rate") / 15625, 1, 1e-5);
    EXPECT_TRUE(std::isnan(value(report, "lines_per_frame")));
    EXPECT_EQ(text(report, "colour"), "PAL");
    EXPECT_NE(fault(video_samples(recipe, 8), 0.9 * 16e6), "none");
}

}  // namespace
}  // namespace guardband::measure
