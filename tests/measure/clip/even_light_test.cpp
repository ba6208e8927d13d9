// Fields in the light of another: by what factor, and that another picture is none.
#include "measure/clip/even_light.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <functional>
#include <vector>

#include "support/clip_frames.h"
#include "testsignal/gaussian_noise.h"

namespace guardband::measure {
namespace {

constexpr int width = 720, height = 96;
constexpr float black = 16;

/// Light of a picture at a place, 0 black to 1 white, in each of its fields.
using Light = std::function<double(int x, int y)>;

double slopes(int x, int y) { return 0.3 + 0.15 * std::sin(x / 60.0) + 0.1 * std::sin(y / 15.0); }

/// A frame of 10 bits with noise of 40 dB, with what the search for losses needs of it.
class Made {
public:
    Made(const Light& light, std::uint64_t seed) {
        planes_.luma.resize(std::size_t{width} * height);
        planes_.cb.resize(planes_.luma.size() / 2), planes_.cr.resize(planes_.luma.size() / 2);
        testsignal::Random random(seed);
        for (int y = 0; y < height; ++y)
            for (int x = 0; x < width; ++x)
                planes_.luma[static_cast<std::size_t>(y * width + x)] = static_cast<std::uint16_t>(
                    std::clamp(std::lround(64 + 876 * light(x, y) + 8.8 * random.gaussian()), 4L, 1019L));
        media::PictureFormat format;
        format.width = width, format.height = height, format.bit_depth = 10, format.chroma_shift_x = 1;
        loss.frame = support::make_frame(format, planes_, 0);
        loss.sums = FeatureExtractor(format).extract(loss.frame).segment_sums;
        for (const int parity : {0, 1}) loss.levels[static_cast<std::size_t>(parity)] = field_level(loss, parity);
    }

    LossFrame loss;

private:
    support::Planes planes_;
};

/// With a thing at its side that has a light of its own.
Light beside_a_lamp(double factor) {
    return [=](int x, int y) { return x >= 656 ? 0.8 : factor * slopes(x, y); };
}

// The factor is known to 5 %, a tenth of the least by which a loss has to stand out; what has a light of its own
// changes nothing of it.
TEST(EvenLight, TellsByWhatFactorItChanged) {
    const Made lit(beside_a_lamp(1), 1);
    for (const double factor : {12.0, 3.0, 1.5}) {
        const Made dim(beside_a_lamp(1 / factor), 2);
        for (const int parity : {0, 1}) {
            EXPECT_NEAR(light_ratio(lit.loss, parity, dim.loss, 1 - parity, black), factor, 0.05 * factor);
            EXPECT_NEAR(light_ratio(dim.loss, parity, lit.loss, parity, black), 1 / factor, 0.05 / factor);
        }
    }
}

TEST(EvenLight, IsNoneOfAnotherPictureOrALittleFlicker) {
    const Made here(slopes, 1), flickering([](int x, int y) { return 1.15 * slopes(x, y); }, 2);
    const Made other([](int x, int y) { return 0.35 + 0.33 * std::sin(x / 25.0 + y / 9.0); }, 3);
    const Made dark([](int, int) { return 0.0; }, 4);
    EXPECT_EQ(light_ratio(here.loss, 0, flickering.loss, 0, black), 1);
    EXPECT_EQ(light_ratio(flickering.loss, 0, here.loss, 0, black), 1);
    EXPECT_EQ(light_ratio(other.loss, 0, here.loss, 0, black), 1);
    EXPECT_EQ(light_ratio(dark.loss, 0, dark.loss, 0, black), 1);
    EvenLight light(black);
    EXPECT_EQ(light.lit_as(here.loss, 0, &other.loss, 0), &other.loss);
    EXPECT_EQ(light.lit_as(here.loss, 0, nullptr, 0), nullptr);
}

// Only the fields that another light lit are changed: their samples and the sums of them alike.
TEST(EvenLight, ShowsTheOtherFieldInTheLightOfTheFirst) {
    const Made flash([](int x, int y) { return y % 2 == 0 ? slopes(x, y) : slopes(x, y) / 6; }, 1);
    EvenLight light(black);
    const LossFrame* even = light.lit_as(flash.loss, 0, &flash.loss, 1);
    ASSERT_NE(even, &flash.loss);
    EXPECT_EQ(even->lit_by[0], 1);
    const CodeReader before(flash.loss.frame), after(even->frame);
    for (int y = 8; y < height - 8; ++y)
        for (int x = 0; x + 48 <= width; x += 48) {
            const float mean = after.mean(x, x + 48, y);
            double wanted = 0;
            for (int i = 0; i < 48; ++i) wanted += 16 + 219 * slopes(x + i, y);
            if (y % 2 == 0)
                EXPECT_EQ(mean, before.mean(x, x + 48, y));
            else
                EXPECT_NEAR(mean, wanted / 48, 10) << x << ' ' << y;  // six times the noise, in 48 samples
            std::uint32_t sum = 0;
            for (int s = x / 16; s < x / 16 + 3; ++s) sum += even->sums.at(s, y);
            EXPECT_NEAR(static_cast<float>(sum) / (4 * 48), mean, 1);  // samples end at code 0
        }
}

}  // namespace
}  // namespace guardband::measure
