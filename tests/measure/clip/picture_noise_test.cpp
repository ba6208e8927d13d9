// Noise of clips to which noise of a known level was added: textured pictures with and without motion, over the range
// claimed. An independent look: clips that FFmpeg makes and whose noise its `psnr` filter measures.
#include "measure/clip/picture_noise.h"

#include <gmock/gmock.h>

#include <cmath>
#include <fstream>

#include "measure/pass.h"
#include "measured_noise.h"
#include "support/ffmpeg.h"
#include "support/measured_figures.h"
#include "support/numbers_in.h"

namespace guardband::measure {
namespace {

using quantity::Figures;
using testing::HasSubstr;
using testing::Not;
using testsignal::Recipe;

/// Level, depth.
using Coding = std::pair<double, int>;
class NoiseOverRange : public testing::TestWithParam<std::tuple<Coding, Motion>> {};

// The claim: within 0.7 dB from 28 to 48 dB; bias and scatter both.
TEST_P(NoiseOverRange, IsRight) {
    const auto& [coding, motion] = GetParam();
    const auto [snr_db, bit_depth] = coding;
    double luma_sum = 0, luma_squares = 0;
    constexpr int repetitions = 2;
    for (std::uint64_t seed = 1; seed <= repetitions; ++seed) {
        const Figures figures = measured(scene(snr_db, bit_depth, motion, seed));
        const auto *luma = figures.find("luma_snr"), *chroma = figures.find("chroma_snr");
        ASSERT_TRUE(luma->is_known()) << luma->reason();
        ASSERT_TRUE(chroma->is_known()) << chroma->reason();
        const double error = *luma->number() - snr_db;
        EXPECT_LE(std::abs(error), 0.7);
        EXPECT_LE(std::abs(*chroma->number() - (snr_db - 2)), 0.7);
        EXPECT_LE(*luma->uncertainty(), 0.5);
        luma_sum += error, luma_squares += error * error;
    }
    const double bias = luma_sum / repetitions;
    EXPECT_LE(std::abs(bias), 0.7);
    EXPECT_LE(std::sqrt(std::max(0.0, luma_squares / repetitions - bias * bias)), 0.3);
}

std::string name_of(const testing::TestParamInfo<std::tuple<Coding, Motion>>& one) {
    const auto& [coding, motion] = one.param;
    return "db" + std::to_string(static_cast<int>(coding.first)) + "bit" + std::to_string(coding.second) + motion.name;
}

INSTANTIATE_TEST_SUITE_P(Grid, NoiseOverRange,
                         testing::Combine(testing::Values(Coding(28, 8), Coding(38, 10), Coding(48, 10), Coding(48, 8)),
                                          testing::ValuesIn(motions)),
                         name_of);

TEST(PictureNoise, TellsNoiseFromLinesThatJitter) {
    Recipe r = scene(38, 10, motions[0], 5);
    r.time_base.emplace().random_ns = 60;
    r.blanking.emplace();
    EXPECT_NEAR(*measured(r).find("luma_snr")->number(), 38, 0.7);
}

TEST(PictureNoise, ExactRepeatsSayNothing) {
    Recipe r = scene(40, 10, motions[0], 6);
    r.duration_s = 0.8;
    r.faults.repeated_frames = {3, 4, 5, 8, 9, 10, 13, 14};
    EXPECT_NEAR(*measured(r).find("luma_snr")->number(), 40, 0.7);
}

// Frames that a player drew differ from those before and after by all that these show.
TEST(PictureNoise, FramesThatAPlayerDrewSayNothing) {
    testsignal::Recipe recipe = support::recipe_of("525/60", 8, 1.6, 8);
    recipe.picture.motion_px = 1.3, recipe.picture.direction_deg = 15;
    recipe.noise.snr_db = 34;
    recipe.player.black = {20, 2}, recipe.player.grey = {30, 2}, recipe.player.blue = {40, 2};
    const Figures figures = measured(recipe);
    ASSERT_TRUE(figures.find("luma_snr")->is_known()) << figures.find("luma_snr")->reason();
    EXPECT_NEAR(*figures.find("luma_snr")->number(), 34, 0.7);
}

TEST(PictureNoise, SaysInWhichPartOfTheBandItLies) {
    Recipe r = scene(34, 10, motions[4], 9);
    // Noise of the lower half alone: the mean of two neighbours, twice over, leaves 3/8 of the power.
    const Processor smooth = [](support::Planes& planes) {
        for (std::size_t i = planes.luma.size() - 1; i >= 2; --i)
            planes.luma[i] =
                static_cast<std::uint16_t>((planes.luma[i] + 2 * planes.luma[i - 1] + planes.luma[i - 2] + 2) / 4);
    };
    const Figures figures = measured(r, smooth);
    EXPECT_NEAR(*figures.find("luma_snr")->number(), 34 - 10 * std::log10(3.0 / 8), 0.7);
    const std::string note = figures.find("luma_snr")->note();
    const auto quarters = support::numbers_in(note, R"((\d+), (\d+), (\d+) and (\d+) %)");
    ASSERT_EQ(quarters.size(), 4) << note;
    // cos⁴ over each quarter: 0.55, 0.34, 0.10 and 0.01 of the whole.
    EXPECT_NEAR(quarters[0], 60, 6);
    EXPECT_NEAR(quarters[1], 34, 6);
    EXPECT_NEAR(quarters[2], 6, 5);
    EXPECT_NEAR(quarters[3], 0, 1);
}

TEST(PictureNoise, SaysWhyNot) {
    for (const auto& [width, height, frames] :
         {std::tuple(720, 576, 1), std::tuple(64, 48, 4), std::tuple(720, 576, 0)}) {
        support::MadeContext made;
        made.info.picture = support::luma_format(width, height);
        PictureNoise measurement(made.context);
        FeatureExtractor extractor(made.info.picture);
        support::Planes grey;
        grey.luma.assign(static_cast<std::size_t>(width) * static_cast<std::size_t>(height), 400);
        for (int i = 0; i < frames; ++i) {
            const auto frame = support::make_frame(made.info.picture, grey, i);
            measurement.see(frame, extractor.extract(frame));
        }
        Figures figures;
        std::vector<quantity::Event> events;
        measurement.finish(figures, events);
        for (const char* id : {"luma_snr", "chroma_snr"}) {
            EXPECT_FALSE(figures.find(id)->is_known());
            EXPECT_FALSE(figures.find(id)->reason().empty());
        }
    }
}

// FFmpeg adds the noise and measures it: PSNR against the clip without, which is about 255 codes, not 219.
TEST(PictureNoise, AgreesWithWhatFfmpegAddsAndMeasures) {
    if (!support::has_ffmpeg()) GTEST_SKIP() << "the ffmpeg command is not installed";
    const support::TemporaryFolder folder;
    const auto table = table::load_table();
    const std::string source = "testsrc2=s=720x576:r=25:d=0.8,format=yuv422p,lutyuv=y=60+(val-16)*0.6";
    for (const int strength : {8, 24}) {
        const std::string clip = folder.file("noisy.mkv"), log = folder.file("psnr.log");
        const std::string noise = ",noise=c0s=" + std::to_string(strength) + ":c0f=t:c1s=6:c1f=t:c2s=6:c2f=t";
        support::ffmpeg("-f lavfi -i '" + source + noise + "' -c:v ffv1 " + clip);
        support::ffmpeg("-i " + clip + " -f lavfi -i '" + source + "' -lavfi psnr=f=" + log + " -f null -");
        std::ifstream lines(log);
        double squares = 0, frames = 0;
        for (std::string line; std::getline(lines, line); ++frames) {
            const auto found = support::numbers_in(line, "mse_y:([0-9.]+)");
            ASSERT_EQ(found.size(), 1) << line;
            squares += found[0];
        }
        ASSERT_GT(frames, 15);
        const auto reader = media::open_clip(clip);
        const ClipReport report = measure_clip(*reader, table);
        const auto* figure = report.figures.find("luma_snr");
        ASSERT_TRUE(figure->is_known()) << figure->reason();
        EXPECT_NEAR(*figure->number(), 10 * std::log10(219.0 * 219.0 / (squares / frames)), 0.7) << strength;
    }
}

}  // namespace
}  // namespace guardband::measure
