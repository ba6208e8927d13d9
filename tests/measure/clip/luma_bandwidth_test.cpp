// Bandwidth of luma on clips whose low-pass is known, and on one that FFmpeg scaled down and up again.
#include "measure/clip/luma_bandwidth.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

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
                                         Limited{"625/50", 8, 3.0, 48}, Limited{"525/60", 10, 4.6, 38},
                                         Limited{"525/60", 10, 5.0, 42}, Limited{"625/50", 10, 5.0, 50}));

/// A channel that falls as half a cosine wave, from 1 to 0 over `share` of its half-amplitude point to either side:
/// its impulse response, and the noise after it.
class GentleChannel {
public:
    GentleChannel(double half_amplitude, double share, float noise_codes, unsigned seed)
        : noise_(0, noise_codes), random_(seed) {
        constexpr int steps = 2000;
        for (int tap = 0; tap <= reach; ++tap) {
            double sum = 0;
            for (int i = 0; i < steps; ++i) {
                const double f = (i + 0.5) / steps / 2, past = (f - half_amplitude) / (share * half_amplitude);
                const double response = 0.5 - 0.5 * std::sin(std::numbers::pi / 2 * std::clamp(past, -1.0, 1.0));
                sum += response * std::cos(2 * std::numbers::pi * f * tap) / steps;
            }
            const double window = 0.5 + 0.5 * std::cos(std::numbers::pi * tap / (reach + 1));
            taps_.push_back(static_cast<float>(sum * window));
        }
    }

    /// @param scale  codes of the samples in one of 8 bits
    void apply(std::vector<std::uint16_t>& luma, int width, float scale) {
        const auto count = static_cast<std::size_t>(width);
        std::vector<float> padded(count + 2 * reach), row(count);
        for (auto at = luma.begin(); at < luma.end(); at += width) {
            std::fill_n(padded.begin(), reach, at[0]);
            std::copy_n(at, width, padded.begin() + reach);
            std::fill_n(padded.end() - reach, reach, at[width - 1]);
            for (float& sample : row) sample = scale * noise_(random_);
            for (int tap = -reach; tap <= reach; ++tap)
                for (std::size_t x = 0; x < count; ++x)
                    row[x] += taps_[static_cast<std::size_t>(std::abs(tap))] *
                              padded[static_cast<std::size_t>(static_cast<int>(x) + reach + tap)];
            std::ranges::transform(row, at, [](float code) {
                return static_cast<std::uint16_t>(std::lround(std::clamp(code, 0.0F, 1023.0F)));
            });
        }
    }

private:
    static constexpr int reach = 20;
    std::vector<float> taps_;
    std::normal_distribution<float> noise_;
    std::mt19937 random_;
};

// What a scene's lens takes must not go to the channel, which shows where that falls gently.
TEST(LumaBandwidth, IsNotBiasedByAGentleChannel) {
    for (const double mhz : {3.0, 3.5}) {
        double sum = 0;
        constexpr int scenes = 2;
        for (unsigned seed = 61; seed < 61 + scenes; ++seed) {
            testsignal::Recipe recipe = recipe_of(seed % 2 == 0 ? "525/60" : "625/50", 10, 0.4, seed);
            recipe.noise.snr_db.reset();
            recipe.picture.luma_bandwidth_mhz = 20;
            GentleChannel channel(mhz / 13.5, 0.3, 219 * std::pow(10.0F, -44.0F / 20), seed);
            const auto found = support::measure_edited<LumaBandwidth>(
                recipe,
                [&](std::vector<std::uint16_t>& luma, std::int64_t) { channel.apply(luma, recipe.raster.width, 4); });
            ASSERT_TRUE(found["luma_bandwidth"].is_known()) << found["luma_bandwidth"].reason();
            EXPECT_NEAR(found.number("luma_bandwidth") / mhz, 1, 0.05) << seed;
            sum += found.number("luma_bandwidth") / mhz - 1;
        }
        EXPECT_LE(std::abs(sum / scenes), 0.02) << mhz << " MHz";
    }
}

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
