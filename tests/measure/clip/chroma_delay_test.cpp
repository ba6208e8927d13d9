// Delay of colour against luma on clips whose delay is known because they were made so: bias and scatter by system,
// depth, sampling and content; and on clips whose colour FFmpeg moved.
#include "measure/clip/chroma_delay.h"

#include <gmock/gmock.h>

#include <cmath>
#include <numeric>

#include "support/ffmpeg.h"
#include "support/measured_figures.h"

namespace guardband::measure {
namespace {

using support::measure_made;
using support::recipe_of;
using testing::HasSubstr;
using testsignal::ChromaSampling;

constexpr double claimed_ns = 10;

struct Delayed {
    const char* system;
    int bit_depth;
    ChromaSampling chroma;
    double delay_ns, snr_db, tint, chroma_mhz;
    bool still = false;
};
class ChromaDelayOver : public testing::TestWithParam<Delayed> {};

TEST_P(ChromaDelayOver, IsWithinWhatIsClaimed) {
    const Delayed& p = GetParam();
    testsignal::Recipe recipe = recipe_of(p.system, p.bit_depth, 1.6, 30);
    recipe.chroma = p.chroma;
    if (p.chroma == ChromaSampling::C420 && recipe.raster.height % 4 != 0) recipe.raster.height = 480;
    recipe.noise.snr_db = p.snr_db;
    recipe.picture.chroma_delay_ns = p.delay_ns;
    recipe.picture.tint = p.tint, recipe.picture.chroma_bandwidth_mhz = p.chroma_mhz;
    recipe.picture.still = p.still;
    const auto found = measure_made<ChromaDelay>(recipe);
    ASSERT_TRUE(found["chroma_delay"].is_known()) << found["chroma_delay"].reason();
    const double error = found.number("chroma_delay") - p.delay_ns, stated = found.uncertainty("chroma_delay");
    std::cout << "  error " << error << ", stated " << stated << " ns\n";
    EXPECT_LE(std::abs(error), claimed_ns);
    EXPECT_LE(std::abs(error), 3 * stated);
    EXPECT_LE(stated, claimed_ns) << "and no more is stated than the claim bears";
}

INSTANTIATE_TEST_SUITE_P(Grid, ChromaDelayOver,
                         testing::Values(Delayed{"625/50", 10, ChromaSampling::C422, 100, 42, 0.1, 1.3},
                                         Delayed{"525/60", 8, ChromaSampling::C422, -150, 36, 0.1, 1.3},
                                         Delayed{"525/60", 10, ChromaSampling::C422, 0, 46, 0, 1.3},
                                         Delayed{"625/50", 8, ChromaSampling::C420, 60, 40, 0.1, 1.3, true},
                                         Delayed{"525/60", 8, ChromaSampling::C411, 300, 42, 0.15, 1.0},
                                         Delayed{"625/50", 10, ChromaSampling::C422, 170, 42, 0.2, 0.6}));

/// Noise adds scatter but no bias, and the scatter is told. Many scenes, since each errs by what lies beside its edges.
class ChromaDelayInNoise : public testing::TestWithParam<double> {};

TEST_P(ChromaDelayInNoise, IsNotBiased) {
    constexpr int scenes = 4;
    double sum = 0, squares = 0, in_uncertainties = 0, known = 0;
    for (int i = 0; i < scenes; ++i) {
        testsignal::Recipe recipe =
            recipe_of(i % 2 == 0 ? "625/50" : "525/60", i % 2 == 0 ? 10 : 8, 0.8, 5000 + static_cast<std::uint64_t>(i));
        recipe.noise.snr_db = GetParam();
        recipe.picture.tint = 0.1, recipe.picture.motion_px = 1.3, recipe.picture.chroma_bandwidth_mhz = 1.3;
        const auto found = measure_made<ChromaDelay>(recipe);
        if (!found["chroma_delay"].is_known()) continue;
        const double error = found.number("chroma_delay"), in_own = error / found.uncertainty("chroma_delay");
        sum += error, squares += error * error, in_uncertainties += in_own * in_own, ++known;
    }
    ASSERT_GE(known, 0.8 * scenes);
    const double bias = sum / known, rms = std::sqrt(squares / known), in_own = std::sqrt(in_uncertainties / known);
    std::cout << "  bias " << bias << ", rms " << rms << " ns, " << in_own << " of what is stated\n";
    EXPECT_LE(std::abs(bias), claimed_ns / 2 + 2 * rms / std::sqrt(known));
    EXPECT_LE(rms, claimed_ns);
    EXPECT_LE(in_own, 1.5);
}

INSTANTIATE_TEST_SUITE_P(Grid, ChromaDelayInNoise, testing::Values(28.0, 34.0));

/// Colour as narrow as that of a domestic tape, in clips of a few seconds: early, late, in either system; where rocks
/// and water have a colour of their own, and where only a tower and a boat do.
TEST(ChromaDelay, IsKnownOfADomesticTapesColour) {
    constexpr int scenes = 4;
    double sum = 0, squares = 0, in_uncertainties = 0;
    for (int i = 0; i < scenes; ++i) {
        testsignal::Recipe recipe =
            recipe_of(i % 2 == 0 ? "625/50" : "525/60", i % 2 == 0 ? 8 : 10, 3.2, 6000 + static_cast<std::uint64_t>(i));
        recipe.noise.snr_db = 36 + i;
        recipe.picture.luma_bandwidth_mhz = 3, recipe.picture.chroma_bandwidth_mhz = i % 2 == 0 ? 0.4 : 0.5;
        recipe.picture.tint = i == 0 || i == 3 ? 0.12 : 0;
        const double delay_ns = i < 2 ? 400 : -400;
        recipe.picture.chroma_delay_ns = delay_ns;
        const auto found = measure_made<ChromaDelay>(recipe);
        ASSERT_TRUE(found["chroma_delay"].is_known()) << found["chroma_delay"].reason();
        const double error = found.number("chroma_delay") - delay_ns,
                     in_own = error / found.uncertainty("chroma_delay");
        sum += error, squares += error * error, in_uncertainties += in_own * in_own;
        EXPECT_LE(std::abs(error), std::max(claimed_ns, 2.5 * found.uncertainty("chroma_delay"))) << i;
    }
    const double rms = std::sqrt(squares / scenes), in_own = std::sqrt(in_uncertainties / scenes);
    std::cout << "  bias " << sum / scenes << ", rms " << rms << " ns, " << in_own << " of what is stated\n";
    EXPECT_LE(rms, claimed_ns);
    EXPECT_LE(std::abs(sum / scenes), claimed_ns / 2 + 2 * rms / std::sqrt(scenes));
    EXPECT_LE(in_own, 1.5);
}

// Pale colour in noise, seen by the coarsest scale alone, whose parts agree by chance on -96 ns.
TEST(ChromaDelay, ClaimsNoMoreThanItKnowsOfPaleColour) {
    testsignal::Recipe recipe = recipe_of("525/60", 10, 1.0, 1000);
    recipe.noise.snr_db = 28;
    recipe.picture.motion_px = 1.3, recipe.picture.chroma_bandwidth_mhz = 1.3;
    const auto found = measure_made<ChromaDelay>(recipe);
    if (!found["chroma_delay"].is_known()) return;
    EXPECT_LE(std::abs(found.number("chroma_delay")), 3 * found.uncertainty("chroma_delay"));
}

TEST(ChromaDelay, FindsColourThatLiesLower) {
    for (const double lines : {0.0, 2.0, 4.0, -1.0}) {
        testsignal::Recipe recipe = recipe_of("625/50", 10, 0.5, 9);
        recipe.noise.snr_db = 42;
        recipe.picture.chroma_lower_lines = lines, recipe.picture.tint = 0.1;
        const auto found = measure_made<ChromaDelay>(recipe);
        ASSERT_TRUE(found["chroma_lower"].is_known()) << found["chroma_lower"].reason();
        EXPECT_NEAR(found.number("chroma_lower"), lines, 0.25);
        // Common practice, no source: each pass through a comb filter of one line lowers colour by that line or half.
        EXPECT_EQ(found["chroma_lower"].note(), lines < 1   ? ""
                                                : lines < 3 ? "as 1 to 2 passes through a comb filter of one line "
                                                              "would leave it"
                                                            : "as 2 to 4 passes through a comb filter of one line "
                                                              "would leave it: a copy of a copy");
        EXPECT_NEAR(found.number("chroma_delay"), 0, 3 * found.uncertainty("chroma_delay"));
    }
}

// Where a line of colour stands for two of luma, of a field or of the frame.
TEST(ChromaDelay, FindsColourThatLiesLowerInHalfAsManyLines) {
    for (const auto scan : {testsignal::Scan::Interlaced, testsignal::Scan::Progressive})
        for (const double lines : {0.0, 2.0}) {
            testsignal::Recipe recipe = recipe_of("625/50", 8, 0.5, 19);
            recipe.chroma = ChromaSampling::C420, recipe.scan = scan;
            recipe.noise.snr_db = 40;
            recipe.picture.chroma_lower_lines = lines, recipe.picture.tint = 0.1;
            const auto found = measure_made<ChromaDelay>(recipe);
            ASSERT_TRUE(found["chroma_lower"].is_known()) << found["chroma_lower"].reason();
            EXPECT_NEAR(found.number("chroma_lower"), lines, 0.5);
            EXPECT_NEAR(found.number("chroma_lower"), lines, 3 * found.uncertainty("chroma_lower"));
        }
}

// The noise of colour alone, and colour that has nothing to do with luma, show no delay.
TEST(ChromaDelay, SaysNothingWhereThereIsNothingInCommon) {
    testsignal::Recipe recipe = recipe_of("625/50", 10, 0.4, 10);
    recipe.noise.snr_db = 38;
    recipe.picture.objects = false;
    for (const double gain : {1.0, 0.0}) {
        recipe.levels.chroma_gain = gain;
        const auto found = measure_made<ChromaDelay>(recipe);
        EXPECT_FALSE(found["chroma_delay"].is_known());
        EXPECT_THAT(found["chroma_delay"].reason(), HasSubstr("too few edges"));
    }
}

TEST(ChromaDelay, SaysWhyNotWithoutColour) {
    support::MadeContext made;
    made.info.picture = support::luma_format();
    ChromaDelay measurement(made.context);
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    EXPECT_THAT(figures.find("chroma_delay")->reason(), HasSubstr("no colour"));
}

// FFmpeg's `chromashift` moves the planes of C_B and C_R by whole samples of theirs: two luma samples each along the
// row at 4:2:2, two lines down the picture at 4:2:0. Its test source is drawn in RGB, and its scaler takes the mean of
// two samples for one of colour, which so stands half a luma sample to the right of the first of them while files mean
// the first: colour that is 37 ns early. Down the picture, files of 4:2:0 mean the middle.
TEST(ChromaDelay, AgreesWithFFmpegsChromaShift) {
    GUARDBAND_NEEDS_FFMPEG();
    struct Shifted {
        const char *format, *codec, *file;
        int across, down;
    };
    for (const Shifted& s : {Shifted{"yuv422p", "ffv1", "guardband_chroma_shift.mkv", 0, 0},
                             Shifted{"yuv422p", "ffv1", "guardband_chroma_shift.mkv", 2, 0},
                             Shifted{"yuv420p", "dvvideo", "guardband_chroma_shift.dv", -1, 0},
                             Shifted{"yuv420p", "dvvideo", "guardband_chroma_shift.dv", 0, 1}}) {
        const std::string path = testing::TempDir() + s.file, across = std::to_string(s.across),
                          down = std::to_string(s.down);
        support::ffmpeg("-y -f lavfi -i testsrc2=s=720x576:r=25:d=0.6,format=" + std::string(s.format) +
                        ",chromashift=cbh=" + across + ":crh=" + across + ":cbv=" + down + ":crv=" + down +
                        ":edge=smear,setpts=N/25/TB -c:v " + s.codec + " " + path);
        const auto found = support::measure_file<ChromaDelay>(path);
        EXPECT_NEAR(found.number("chroma_delay"), (2 * s.across - 0.5) * 1e9 / 13.5e6, claimed_ns) << across;
        if (s.across == 0) {
            EXPECT_NEAR(found.number("chroma_lower"), 2 * s.down, 0.25) << down;
        }
    }
}

}  // namespace
}  // namespace guardband::measure
