// Levels and clipping on clips whose levels are known because they were made so: bias and scatter over noise, depth and
// content.
#include "measure/clip/luma_levels.h"

#include <gmock/gmock.h>

#include <cmath>
#include <fstream>
#include <numeric>
#include <random>

#include "measure/clip/clipping.h"
#include "media/clip.h"
#include "support/ffmpeg.h"
#include "support/made_clip.h"
#include "support/made_context.h"
#include "support/measured_figures.h"

namespace guardband::measure {
namespace {

using quantity::Figures;
using support::MadeClip;
using testing::HasSubstr;
using testsignal::Recipe;

template <typename Measurement>
Figures measured(const Recipe& recipe, testsignal::Truth* truth = nullptr) {
    MadeClip clip(recipe);
    support::MadeContext made;
    made.info.picture = clip.format();
    made.table = table::load_table();
    Measurement measurement(made.context);
    FeatureExtractor extractor(clip.format());
    std::int64_t index = 0;
    while (const auto planes = clip.next_planes()) {
        const media::Frame frame = support::make_frame(clip.format(), *planes, index++);
        measurement.see(frame, extractor.extract(frame));
    }
    if (truth != nullptr) *truth = clip.truth();
    Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    return figures;
}

Recipe scene(double snr_db, int bit_depth, std::uint64_t seed, std::string_view system = "625/50") {
    Recipe recipe = support::recipe_of(system, bit_depth, 0.4, seed);
    recipe.noise.snr_db = snr_db;
    return recipe;
}

/// Mean and standard deviation of what was found less what was true.
struct Errors {
    std::vector<double> all;
    double bias() const { return std::accumulate(all.begin(), all.end(), 0.0) / static_cast<double>(all.size()); }
    double scatter() const {
        double sum = 0;
        for (const double error : all) sum += (error - bias()) * (error - bias());
        return std::sqrt(sum / static_cast<double>(all.size() - 1));
    }
};

class LevelsOverNoise : public testing::TestWithParam<std::tuple<double, int>> {};

TEST_P(LevelsOverNoise, AreRightToWhatTheHeaderClaims) {
    const auto [snr_db, bit_depth] = GetParam();
    Errors black, white;
    for (int i = 0; i < 5; ++i) {
        Recipe recipe = scene(snr_db, bit_depth, 20 + static_cast<std::uint64_t>(i), i % 2 == 0 ? "625/50" : "525/60");
        recipe.levels.black_code = 24 + 3.1 * i;  // clear of the coding limits, where noise is cut
        recipe.levels.white_code = 212 - 4.7 * i;
        const Figures figures = measured<LumaLevels>(recipe);
        black.all.push_back(*figures.find("black_level")->number() - recipe.levels.black_code);
        white.all.push_back(*figures.find("white_level")->number() - recipe.levels.white_code);
        EXPECT_THAT(figures.find("black_level")->note(), HasSubstr("true black"));
        EXPECT_THAT(figures.find("white_level")->note(), HasSubstr("flat white"));
        EXPECT_LE(std::abs(black.all.back()), 0.5);
        EXPECT_LE(std::abs(white.all.back()), 0.5);
    }
    EXPECT_LE(std::abs(black.bias()), 0.25);
    EXPECT_LE(std::abs(white.bias()), 0.25);
    EXPECT_LE(black.scatter(), 0.1);
    EXPECT_LE(white.scatter(), 0.1);
    RecordProperty("black_bias", std::to_string(black.bias()));
    std::cout << "  " << snr_db << " dB, " << bit_depth << " bit: black " << black.bias() << " ± " << black.scatter()
              << ", white " << white.bias() << " ± " << white.scatter() << " codes\n";
}

INSTANTIATE_TEST_SUITE_P(Grid, LevelsOverNoise,
                         testing::Combine(testing::Values(28.0, 34.0, 41.0, 48.0), testing::Values(8, 10)));

// Set-up that was left in lifts black to 7.5 % of the range: 16 + 0.075 x 219 (SMPTE 170M, from memory).
TEST(LumaLevels, SayThatSetUpWasLeftIn) {
    for (const double snr_db : {30.0, 42.0})
        for (const double black : {16.0, 16 + 0.075 * 219}) {
            Recipe recipe = scene(snr_db, 10, 6, "525/60");
            recipe.levels.black_code = black;
            const Figures figures = measured<LumaLevels>(recipe);
            EXPECT_NEAR(*figures.find("black_level")->number(), black, 0.5);
            EXPECT_EQ(figures.find("black_level")->note().find("set-up") != std::string::npos, black > 20);
        }
    Recipe european = scene(42, 10, 7);
    european.levels.black_code = 32.4;
    EXPECT_THAT(measured<LumaLevels>(european).find("black_level")->note(), testing::Not(HasSubstr("set-up")));
}

TEST(LumaLevels, SayWhenThereIsNoTrueBlackOrWhite) {
    Recipe recipe = scene(42, 10, 3);
    recipe.picture.objects = false;
    const Figures figures = measured<LumaLevels>(recipe);
    EXPECT_THAT(figures.find("black_level")->note(), HasSubstr("not flat"));
    EXPECT_THAT(figures.find("white_level")->note(), HasSubstr("not flat"));
}

// White letters on a page: black where the page stands at black or at set-up, else there is no telling.
TEST(LumaLevels, TakeAGreyPageForBlackOnlyWhereBlackStands) {
    const auto note_of_page = [](const char* system, int page) {
        Recipe recipe = support::recipe_of(system, 8, 0.2, 3);
        recipe.noise.snr_db = 40;
        const auto found = support::measure_edited<LumaLevels>(recipe, [page](std::vector<std::uint16_t>& luma, auto) {
            std::mt19937 noise(1);
            for (std::size_t i = 0; i < luma.size(); ++i) {
                const bool letter = i / 720 / 20 % 3 == 1 && i % 720 / 9 % 4 == 0;
                luma[i] = static_cast<std::uint16_t>((letter ? 220 : page) + static_cast<int>(noise() % 5) - 2);
            }
        });
        EXPECT_NEAR(found.number("black_level"), page, 0.3);
        return found["black_level"].note();
    };
    EXPECT_THAT(note_of_page("625/50", 16), HasSubstr("true black"));
    EXPECT_THAT(note_of_page("525/60", 32), HasSubstr("set-up"));
    EXPECT_THAT(note_of_page("625/50", 40), HasSubstr("ground"));
}

TEST(LumaLevels, TakeOneFrame) {
    Recipe recipe = scene(42, 10, 4);
    recipe.duration_s = 0.04;
    EXPECT_NEAR(*measured<LumaLevels>(recipe).find("black_level")->number(), 16, 0.5);
}

TEST(LumaLevels, SayWhyNotWhenThereIsNothing) {
    support::MadeContext made;
    LumaLevels levels(made.context);
    Figures figures;
    std::vector<quantity::Event> events;
    levels.finish(figures, events);
    EXPECT_FALSE(figures.find("black_level")->is_known());
    EXPECT_FALSE(figures.find("black_level")->reason().empty());
}

/// Figures of a clip that FFmpeg made.
template <typename Measurement>
Figures of_file(const std::string& path) {
    const auto reader = media::open_clip(path);
    support::MadeContext made;
    made.info = reader->info();
    made.table = table::load_table();
    Measurement measurement(made.context);
    FeatureExtractor extractor(reader->info().picture);
    while (const auto frame = reader->next()) measurement.see(*frame, extractor.extract(*frame));
    Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    return figures;
}

// FFmpeg's own bars: black 16 and white 235 at 100 % (ITU-R BT.801 codes; its signalstats filter reads Y 64 to 940 at
// 10 bits).
TEST(LumaLevels, AgreeWithFFmpegsColourBars) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string path = testing::TempDir() + "guardband_bars.mkv";
    support::ffmpeg("-y -f lavfi -i pal100bars=s=720x576:r=25:d=0.4,format=yuv422p10,setpts=N/25/TB -c:v ffv1 " + path);
    const Figures figures = of_file<LumaLevels>(path);
    EXPECT_NEAR(*figures.find("black_level")->number(), 16, 0.1);
    EXPECT_NEAR(*figures.find("white_level")->number(), 235, 0.1);
    const Figures clipped = of_file<Clipping>(path);
    EXPECT_EQ(clipped.find("clipped_black")->number(), 0) << "flat black is not clipped black";
    EXPECT_EQ(clipped.find("clipped_white")->number(), 0);
}

// A test picture with steps below and above black, and a pattern whose darkest field is blue.
TEST(LumaLevels, TakeNeitherStepsNorColoursForBlack) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string path = testing::TempDir() + "guardband_steps.mkv";
    for (const std::string bars : {"smptehdbars", "smptebars"}) {
        support::ffmpeg("-y -f lavfi -i " + bars + "=s=720x486:r=25:d=0.3,format=yuv422p10 -c:v ffv1 " + path);
        EXPECT_NEAR(*of_file<LumaLevels>(path).find("black_level")->number(), 16, 0.3) << bars;
    }
    support::ffmpeg("-y -f lavfi -i testsrc2=s=400x288:r=25:d=0.3,format=yuv422p -c:v ffv1 " + path);
    EXPECT_THAT(of_file<LumaLevels>(path).find("black_level")->note(), HasSubstr("no black"));
}

// FFmpeg's signalstats of the same file. Its greatest and least codes are the levels where there is no noise; with
// noise its mean over a flat field is.
TEST(LumaLevels, AgreeWithFFmpegsSignalstats) {
    GUARDBAND_NEEDS_FFMPEG();
    const support::TemporaryFolder folder;
    const std::string path = folder.file("levels.mkv"), log = folder.file("stats.txt");
    const auto statistic = [&](const std::string& source, const std::string& filter, const std::string& key) {
        support::ffmpeg("-y -f lavfi -i \"" + source + "\" -c:v ffv1 '" + path + "'");
        support::ffmpeg("-i '" + path + "' -vf \"" + filter + "signalstats,metadata=print:key=lavfi.signalstats." +
                        key + ":file=" + log + "\" -f null -");
        std::ifstream lines(log);
        double sum = 0, count = 0;
        for (std::string line; std::getline(lines, line);)
            if (const auto at = line.find(key + "="); at != std::string::npos)
                sum += std::stod(line.substr(at + key.size() + 1)), ++count;
        return sum / count;
    };
    for (const std::string bars : {"pal75bars", "pal100bars"}) {
        const std::string source = bars + "=s=720x576:r=25:d=0.2,format=yuv422p10";
        const double low = statistic(source, "", "YMIN"), high = statistic(source, "", "YMAX");
        const Figures figures = of_file<LumaLevels>(path);
        EXPECT_NEAR(*figures.find("black_level")->number(), low / 4, 0.1) << bars;
        EXPECT_NEAR(*figures.find("white_level")->number(), high / 4, 0.1) << bars;
    }
    // A dark box before a bright ground, noise of FFmpeg's on both; the statistic of either by itself.
    const std::string box =
        "color=c=gray:s=720x576:r=25:d=0.3,format=yuv422p,geq=lum='if(gt(X\\,200)*lt(X\\,400)\\,37\\,201)':cb=128:cr="
        "128,"
        "noise=c0s=14:c0f=t";
    const double dark = statistic(box, "crop=160:400:220:80,", "YAVG"),
                 bright = statistic(box, "crop=160:400:480:80,", "YAVG");
    const Figures figures = of_file<LumaLevels>(path);
    EXPECT_NEAR(*figures.find("black_level")->number(), dark, 0.5);
    EXPECT_NEAR(*figures.find("white_level")->number(), bright, 0.5);
}

class ClippedAt : public testing::TestWithParam<std::tuple<double, int>> {};

// A chain that stops at a code cuts the noise there: the truth counts the samples that were set to the limit.
TEST_P(ClippedAt, IsCountedAsShare) {
    const auto [snr_db, bit_depth] = GetParam();
    Recipe recipe = scene(snr_db, bit_depth, 7);
    recipe.levels.white_code = 236;
    recipe.levels.clip_high_code = 235;
    recipe.levels.black_code = 15;
    recipe.levels.clip_low_code = 16;
    testsignal::Truth truth;
    const Figures figures = measured<Clipping>(recipe, &truth);
    const auto all = static_cast<double>(truth.tally.samples);
    const double white = static_cast<double>(truth.tally.clipped_high) / all,
                 black = static_cast<double>(truth.tally.clipped_low) / all;
    EXPECT_GT(white, 0.01);
    // What the signal itself puts on the limiting code counts too: 0.4 / noise in codes of the share that was cut, and
    // the rows that were not counted.
    const double noise = 219 / std::pow(10, snr_db / 20) * (bit_depth == 10 ? 4 : 1);
    const double allowed = std::min(1.0, 0.4 / noise) + 0.1;
    EXPECT_NEAR(*figures.find("clipped_white")->number() / white, 1 + allowed / 2, allowed);
    EXPECT_NEAR(*figures.find("clipped_black")->number() / black, 1 + allowed / 2, allowed);
}

INSTANTIATE_TEST_SUITE_P(Grid, ClippedAt, testing::Combine(testing::Values(30.0, 36.0, 42.0), testing::Values(8, 10)));

// White far beyond the limit leaves no noise there at all.
TEST(Clipping, CountsWhiteThatIsCutDeep) {
    for (const int bit_depth : {8, 10}) {
        Recipe recipe = scene(43, bit_depth, 8);
        recipe.levels.white_code = 256;
        recipe.levels.clip_high_code = 235;
        testsignal::Truth truth;
        const Figures figures = measured<Clipping>(recipe, &truth);
        const double white = static_cast<double>(truth.tally.clipped_high) / static_cast<double>(truth.tally.samples);
        EXPECT_NEAR(*figures.find("clipped_white")->number() / white, 1, 0.05);
        EXPECT_LT(*figures.find("clipped_black")->number(), 1e-4);
    }
}

// Black likewise; bars and blanking of the same code beside the picture, as a converter puts them in, lost nothing.
TEST(Clipping, CountsBlackThatIsCutDeep) {
    for (const int bit_depth : {8, 10})
        for (const bool cut : {true, false}) {
            Recipe recipe = scene(43, bit_depth, 8);
            recipe.padding.emplace();
            recipe.padding->top_lines = recipe.padding->bottom_lines = 32, recipe.padding->left_px = 16;
            if (cut) recipe.levels.black_code = 6, recipe.levels.clip_low_code = 16;
            testsignal::Truth truth;
            const Figures figures = measured<Clipping>(recipe, &truth);
            const double black = *figures.find("clipped_black")->number();
            if (cut) {
                EXPECT_NEAR(
                    black * static_cast<double>(truth.tally.samples) / static_cast<double>(truth.tally.clipped_low), 1,
                    0.05);
            } else {
                EXPECT_LT(black, 1e-4);
            }
            EXPECT_LT(*figures.find("clipped_white")->number(), 1e-4);
        }
}

TEST(Clipping, FindsNoneOnCleanClips) {
    for (const int bit_depth : {8, 10})
        for (const double snr_db : {34.0, 40.0, 46.0})
            for (const bool objects : {true, false}) {
                Recipe recipe = scene(snr_db, bit_depth, 11);
                recipe.picture.objects = objects;
                const Figures figures = measured<Clipping>(recipe);
                EXPECT_LT(*figures.find("clipped_white")->number(), 1e-4) << snr_db << " dB, " << bit_depth << " bit";
                EXPECT_LT(*figures.find("clipped_black")->number(), 1e-4) << snr_db << " dB, " << bit_depth << " bit";
            }
}

// Letters with soft edges that roll over flat black, without noise: what moves is no noise that could have been cut.
TEST(Clipping, TakesNoMovingTitlesForNoise) {
    Recipe recipe = scene(43, 8, 1);
    recipe.noise.snr_db.reset(), recipe.duration_s = 0.4;
    const auto found =
        support::measure_edited<Clipping>(recipe, [](std::vector<std::uint16_t>& luma, std::int64_t index) {
            const int width = 720;
            for (int i = 0; i < static_cast<int>(luma.size()); ++i) {
                const int x = i % width, y = i / width + 3 * static_cast<int>(index);
                const unsigned letter = static_cast<unsigned>(x / 16 + 131 * (y / 40)) * 2654435761U;
                const bool is_text = x > 120 && x < 600 && y % 40 < 26 && (letter >> (8 + y % 40 / 5)) % 3 == 0;
                const int edge = std::min(x % 16, 15 - x % 16);
                luma[static_cast<std::size_t>(i)] =
                    static_cast<std::uint16_t>(is_text ? 16 + std::min(219, 60 + 70 * edge) : 16);
            }
        });
    EXPECT_EQ(found.number("clipped_black"), 0);
    EXPECT_EQ(found.number("clipped_white"), 0);
}

TEST(Clipping, CountsTheCodingLimits) {
    Recipe recipe = scene(40, 8, 5);
    recipe.levels.white_code = 262;  // beyond what eight bits hold
    testsignal::Truth truth;
    EXPECT_GT(*measured<Clipping>(recipe, &truth).find("clipped_white")->number(), 0.01);
}

}  // namespace
}  // namespace guardband::measure
