// Overshoot at edges: on drawn lines whose lobes are known, and on what FFmpeg's `unsharp` filter makes of sharp bars.
#include "measure/clip/edge_overshoot.h"

#include <gmock/gmock.h>

#include <cmath>
#include <numbers>
#include <random>

#include "support/ffmpeg.h"
#include "support/measured_figures.h"

namespace guardband::measure {
namespace {

using support::Planes;

/// A step that rises as an error function, with a lobe of a Gaussian's shape after it and another before it.
double stepped(double x, double after, double before) {
    const auto lobe = [x](double at) { return std::exp(-(x - at) * (x - at) / (2 * 0.8 * 0.8)); };
    return 0.5 * std::erfc(-x / (std::numbers::sqrt2 * 0.7)) + after * lobe(3.5) - before * lobe(-3.5);
}

quantity::Figure overshoot_of(double after, double before, double snr_db, int bit_depth, unsigned seed) {
    const auto format = support::luma_format(720, 288, bit_depth);
    support::MadeContext made;
    made.info.picture = format;
    EdgeOvershoot measurement(made.context);
    FeatureExtractor extractor(format);
    std::mt19937 random(seed);
    std::normal_distribution<double> noise(0, 219 / std::pow(10, snr_db / 20));
    std::uniform_real_distribution<double> offset(0, 40);
    const double scale = 1 << (bit_depth - 8);
    for (int index = 0; index < 3; ++index) {
        Planes planes;
        for (int y = 0; y < format.height; ++y) {
            const double shift = offset(random);
            for (int x = 0; x < format.width; ++x) {
                const double at = std::fmod(x + shift, 80);  // up at 20, down at 60
                const double level = at < 40 ? stepped(at - 20, after, before) : 1 - stepped(at - 60, after, before);
                const double code = scale * (60 + 100 * level + noise(random));
                planes.luma.push_back(static_cast<std::uint16_t>(std::lround(code)));
            }
        }
        const auto frame = support::make_frame(format, planes, index);
        measurement.see(frame, extractor.extract(frame));
    }
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    measurement.finish(figures, events);
    return *figures.find("edge_overshoot");
}

TEST(EdgeOvershoot, IsWithinAPerCentOfTheStep) {
    unsigned seed = 1;
    for (const double top : {0.0, 0.08, 0.25})
        for (const double snr_db : {36.0, 48.0})
            for (const int bit_depth : {8, 10}) {
                const auto found = overshoot_of(top, top / 2, snr_db, bit_depth, seed++);
                ASSERT_TRUE(found.is_known()) << found.reason();
                EXPECT_NEAR(*found.number(), 100 * top, 1) << snr_db << " dB, " << bit_depth << " bit";
            }
}

TEST(EdgeOvershoot, TellsBeforeFromAfter) {
    const auto found = overshoot_of(0.05, 0.2, 42, 10, 9);
    EXPECT_NEAR(*found.number(), 20, 1);
    EXPECT_THAT(found.note(), testing::HasSubstr("before the edge"));
}

TEST(EdgeOvershoot, SaysWhyNotInTextureAlone) {
    testsignal::Recipe recipe = support::recipe_of("625/50", 8, 0.08, 1);
    recipe.picture.objects = false;
    const auto found = support::measure_made<EdgeOvershoot>(recipe);
    EXPECT_THAT(found["edge_overshoot"].reason(), testing::HasSubstr("too few"));
}

// FFmpeg's `unsharp` adds `amount` times what a sample differs by from the mean around it, here a binomial one of five
// samples: beside a hard step of 1 that mean is 5/16 off, then 1/16. So the overshoot is 5/16 of the amount.
TEST(EdgeOvershoot, AgreesWithFFmpegsUnsharpFilter) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string path = testing::TempDir() + "guardband_sharpened.mkv";
    support::ffmpeg(
        "-y -f lavfi -i \"color=s=720x576:r=25:d=0.2:c=black,format=gray,geq=lum='60+100*lt(mod(X,80),40)'\" -vf "
        "format=yuv422p,unsharp=5:3:0.64:3:3:0 -c:v ffv1 " +
        path);
    const auto found = support::measure_file<EdgeOvershoot>(path);
    ASSERT_TRUE(found["edge_overshoot"].is_known()) << found["edge_overshoot"].reason();
    EXPECT_NEAR(found.number("edge_overshoot"), 100 * 0.64 * 5 / 16, 1.5);
}

}  // namespace
}  // namespace guardband::measure
