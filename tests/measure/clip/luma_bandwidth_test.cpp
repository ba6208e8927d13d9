// Bandwidth of luma on clips whose low-pass is known, and on one that FFmpeg scaled down and up again.
#include "measure/clip/luma_bandwidth.h"

#include <gmock/gmock.h>

#include <cmath>

#include "support/ffmpeg.h"
#include "support/measured_figures.h"

namespace guardband::measure {
namespace {

using support::measure_made;
using support::recipe_of;
using testing::AnyOf;
using testing::HasSubstr;

struct Limited {
    const char* system;
    int bit_depth;
    double mhz, snr_db;
};
class BandwidthOver : public testing::TestWithParam<Limited> {};

TEST_P(BandwidthOver, IsWithinFivePerCent) {
    const Limited& p = GetParam();
    for (const std::uint64_t seed : {41, 42}) {
        testsignal::Recipe recipe = recipe_of(p.system, p.bit_depth, 0.8, seed);
        recipe.noise.snr_db = p.snr_db;
        recipe.picture.luma_bandwidth_mhz = p.mhz;
        const auto found = measure_made<LumaBandwidth>(recipe);
        ASSERT_TRUE(found["luma_bandwidth"].is_known()) << found["luma_bandwidth"].reason();
        EXPECT_NEAR(found.number("luma_bandwidth") / p.mhz, 1, 0.05) << seed;
        EXPECT_LT(found.uncertainty("luma_bandwidth"), 0.05 * p.mhz);
        EXPECT_THAT(found["luma_bandwidth"].note(), HasSubstr("holds up to 6.75 MHz"));
    }
}

INSTANTIATE_TEST_SUITE_P(Grid, BandwidthOver,
                         testing::Values(Limited{"625/50", 10, 2.0, 42}, Limited{"525/60", 8, 3.0, 32},
                                         Limited{"625/50", 8, 3.0, 48}, Limited{"525/60", 10, 4.0, 44},
                                         Limited{"625/50", 10, 5.0, 50}));

// Pictures that fade into noise before anything rolls off, and a band as wide as the raster's.
TEST(LumaBandwidth, DoesNotTakeTheNoiseFloorForARollOff) {
    for (const double snr_db : {32.0, 44.0, 60.0}) {
        testsignal::Recipe recipe = recipe_of("525/60", 10, 0.5, 43);
        recipe.noise.snr_db = snr_db;
        recipe.picture.luma_bandwidth_mhz = 20;
        const auto found = measure_made<LumaBandwidth>(recipe);
        EXPECT_FALSE(found["luma_bandwidth"].is_known()) << found.number("luma_bandwidth");
        EXPECT_THAT(found["luma_bandwidth"].reason(),
                    AnyOf(HasSubstr("sinks into noise"), HasSubstr("no roll-off"),
                          HasSubstr("too little above the noise"), HasSubstr("too gently")));
    }
}

// A roll-off at the edge of what noise leaves: it is there, so that to say that none is would be wrong.
TEST(LumaBandwidth, SaysThatNoiseHidesARollOff) {
    for (const double snr_db : {38.0, 42.0}) {
        testsignal::Recipe recipe = recipe_of("525/60", 10, 0.6, 102);
        recipe.noise.snr_db = snr_db;
        recipe.picture.luma_bandwidth_mhz = 5.5;
        const auto found = measure_made<LumaBandwidth>(recipe);
        EXPECT_FALSE(found["luma_bandwidth"].is_known()) << found.number("luma_bandwidth");
        EXPECT_THAT(found["luma_bandwidth"].reason(), HasSubstr("noise"));
    }
}

TEST(LumaBandwidth, SaysWhyNotOfFlatPictures) {
    support::MadeContext made;
    made.info.picture = support::luma_format(720, 576, 10);
    LumaBandwidth measurement(made.context);
    FeatureExtractor extractor(made.info.picture);
    support::Planes grey;
    grey.luma.assign(720 * 576, 500);
    for (int i = 0; i < 3; ++i) {
        const auto frame = support::make_frame(made.info.picture, grey, i);
        measurement.see(frame, extractor.extract(frame));
    }
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    EXPECT_FALSE(figures.find("luma_bandwidth")->reason().empty());
}

// FFmpeg's scaler, to half the width and back by sincs, leaves what half as many samples hold: 3.375 MHz.
TEST(LumaBandwidth, SeesWhatFFmpegsScalerLeft) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string path = testing::TempDir() + "guardband_scaled.mkv";
    const auto measured = [&](const std::string& scaling) {
        support::ffmpeg(
            "-y -f lavfi -i mandelbrot=s=720x576:r=25:start_scale=0.3:end_pts=40 -t 0.6 -vf \"format=yuv422p" +
            scaling + "\" -c:v ffv1 " + path);
        return support::measure_file<LumaBandwidth>(path);
    };
    const auto scaled = measured(",scale=360:576:flags=sinc,scale=720:576:flags=sinc");
    ASSERT_TRUE(scaled["luma_bandwidth"].is_known()) << scaled["luma_bandwidth"].reason();
    EXPECT_NEAR(scaled.number("luma_bandwidth") / 3.375, 1, 0.05);
    EXPECT_FALSE(measured("")["luma_bandwidth"].is_known());
}

}  // namespace
}  // namespace guardband::measure
