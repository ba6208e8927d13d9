// Overshoot at edges: on drawn lines whose lobes are known, and on what FFmpeg's `unsharp` filter makes of sharp bars.
#include "measure/clip/edge_overshoot.h"

#include <gmock/gmock.h>

#include <algorithm>
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

/// What is made of bars whose edges rise so. @param step  from 0 to 1 about 0, by samples
template <typename Step>
quantity::Figure overshoot_at(const Step& step, double snr_db, int bit_depth, unsigned seed) {
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
                const double level = at < 40 ? step(at - 20) : 1 - step(at - 60);
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

quantity::Figure overshoot_of(double after, double before, double snr_db, int bit_depth, unsigned seed) {
    return overshoot_at([=](double x) { return stepped(x, after, before); }, snr_db, bit_depth, seed);
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

/// A step that rings after it, as filters do that delay all frequencies as little as they can.
class RingingStep {
public:
    RingingStep(double amount, double period) : values_(2 * reach * fineness + 1) {
        constexpr double rise = 0.6;
        double greatest = 0;
        std::vector<double> ring(values_.size());
        for (std::size_t i = 0; i < ring.size(); ++i) {
            // The ring that sets in at 0, seen through the same softness as the step.
            for (double u = -4 * rise; u <= 4 * rise; u += 0.05)
                if (const double t = at(i) - u; t >= 0)
                    ring[i] += std::exp(-u * u / (2 * rise * rise) - t / (0.7 * period)) *
                               std::sin(2 * std::numbers::pi * t / period);
            greatest = std::max(greatest, ring[i]);
        }
        for (std::size_t i = 0; i < values_.size(); ++i)
            values_[i] = 0.5 * std::erfc(-at(i) / (std::numbers::sqrt2 * rise)) + amount * ring[i] / greatest;
    }
    double operator()(double x) const {
        const double place = (x + reach) * fineness;
        if (place < 0) return 0;
        const auto i = static_cast<std::size_t>(place);
        return i + 1 < values_.size() ? std::lerp(values_[i], values_[i + 1], place - static_cast<double>(i)) : 1;
    }
    double overshoot_percent() const { return 100 * (*std::ranges::max_element(values_) - 1); }

private:
    static constexpr int reach = 20, fineness = 16;
    static double at(std::size_t i) { return static_cast<double>(i) / fineness - reach; }
    std::vector<double> values_;
};

TEST(EdgeOvershoot, SeesRingingThatLags) {
    unsigned seed = 40;
    for (const double amount : {0.05, 0.15, 0.3})
        for (const double period : {3.5, 6.0})
            for (const double snr_db : {32.0, 46.0}) {
                const RingingStep step(amount, period);
                const auto found = overshoot_at(step, snr_db, snr_db > 40 ? 10 : 8, seed++);
                if (snr_db < 40 && !found.is_known()) continue;
                ASSERT_TRUE(found.is_known()) << found.reason();
                EXPECT_NEAR(*found.number(), step.overshoot_percent(), 1 + *found.uncertainty())
                    << amount << " at " << period << " samples, " << snr_db << " dB";
                EXPECT_LE(*found.uncertainty(), 3);
            }
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
