// The slope of the levels at either end, on clips whose levels were bent here by curves written out below, noise and
// all; what it should be is reckoned from the curve and the noise. And on clips that nobody bent.
#include "measure/clip/picture_noise.h"

#include <gmock/gmock.h>

#include <cmath>
#include <functional>

#include "support/ffmpeg.h"
#include "support/made_clip.h"
#include "support/measured_figures.h"
#include "testsignal/gaussian_noise.h"

namespace guardband::measure {
namespace {

using support::MeasuredFigures;
using testing::HasSubstr;
using testing::Not;
using testsignal::Recipe;

/// From levels to levels, 8-bit codes.
using Curve = std::function<double(double)>;

/// Slope 1 well above `knee` and 0 well below it, half at it.
Curve soft_black(double knee, double width) {
    return [=](double x) { return knee + width * std::log1p(std::exp((x - knee) / width)); };
}

Curve soft_white(double knee, double width) {
    return [=](double x) { return knee - width * std::log1p(std::exp((knee - x) / width)); };
}

/// RMS of what the curve makes of noise about a level, over that noise.
double slope_of(const Curve& curve, double level, double noise) {
    testsignal::Random random(5);
    double sum = 0, squares = 0;
    constexpr int count = 40000;
    for (int i = 0; i < count; ++i) {
        const double y = curve(level + noise * random.gaussian());
        sum += y, squares += y * y;
    }
    return std::sqrt(squares / count - sum / count * sum / count) / noise;
}

MeasuredFigures measured(const Recipe& recipe, const Curve& curve = {}) {
    const double scale = 1 << (recipe.bit_depth - 8);
    return support::measure_edited<PictureNoise>(recipe, [&](std::vector<std::uint16_t>& luma, std::int64_t) {
        if (!curve) return;
        for (auto& sample : luma)
            sample = static_cast<std::uint16_t>(std::clamp(std::lround(scale * curve(sample / scale)), 0L, 1023L));
    });
}

Recipe scene(double snr_db, int bit_depth, std::uint64_t seed) {
    Recipe recipe = support::recipe_of(seed % 2 == 0 ? "525/60" : "625/50", bit_depth, 0.36, seed);
    recipe.noise.snr_db = snr_db;
    // Clear of the coding limits, which would cut the noise and be a bend of their own.
    recipe.levels.black_code = 40, recipe.levels.white_code = 215;
    return recipe;
}

class Slopes : public testing::TestWithParam<std::tuple<double, int>> {};

TEST_P(Slopes, AreThoseOfTheCurve) {
    const auto [snr_db, bit_depth] = GetParam();
    const double noise = 219 / std::pow(10, snr_db / 20);
    for (const double below : {-6.0, 5.0}) {
        const Recipe recipe = scene(snr_db, bit_depth, 3 + static_cast<std::uint64_t>(below > 0));
        const Curve black = soft_black(40 + below, 5), white = soft_white(215 - below, 5);
        const auto found = measured(recipe, [&](double x) { return black(white(x)); });
        EXPECT_NEAR(found.number("black_slope"), slope_of(black, 40, noise), 0.1) << below;
        EXPECT_NEAR(found.number("white_slope"), slope_of(white, 215, noise), 0.1) << below;
        std::cout << "  " << snr_db << " dB, knee " << below << ": " << found.number("black_slope") << " for "
                  << slope_of(black, 40, noise) << ", " << found.number("white_slope") << " for "
                  << slope_of(white, 215, noise) << " " << found["black_slope"].note() << "\n";
    }
}

INSTANTIATE_TEST_SUITE_P(Grid, Slopes, testing::Combine(testing::Values(30.0, 37.0, 44.0), testing::Values(8, 10)));

TEST(Crushing, SaysThatTheNoiseLeans) {
    const auto bent = measured(scene(37, 10, 3), soft_black(44, 5));
    EXPECT_THAT(bent["black_slope"].note(), HasSubstr("leans up"));
    EXPECT_THAT(bent["white_slope"].note(), Not(HasSubstr("leans")));
    const auto at_white = measured(scene(37, 10, 3), soft_white(211, 5));
    EXPECT_THAT(at_white["white_slope"].note(), HasSubstr("leans down"));
    EXPECT_THAT(at_white["black_slope"].note(), Not(HasSubstr("leans")));
}

// Pictures with their own levels, the dark ones too: most of a night is near black and not crushed for that.
TEST(Crushing, IsNotReadIntoDarkPictures) {
    for (const double snr_db : {30.0, 44.0})
        for (const int bit_depth : {8, 10})
            for (const double power : {1.0, 2.0}) {
                Recipe recipe = scene(snr_db, bit_depth, 5);
                recipe.levels.white_code = power > 1 ? 110 : 215;
                const auto found = measured(recipe);
                for (const char* id : {"black_slope", "white_slope"}) {
                    if (!found[id].is_known()) continue;
                    EXPECT_NEAR(found.number(id), 1, 0.15) << id << ' ' << snr_db;
                    EXPECT_THAT(found[id].note(), Not(HasSubstr("leans"))) << id << ' ' << snr_db;
                }
            }
}

TEST(Crushing, SaysWhyNot) {
    Recipe clean = scene(40, 10, 3);
    clean.noise = {};
    EXPECT_THAT(measured(clean)["black_slope"].reason(), HasSubstr("not known"));
    Recipe small = scene(40, 10, 3);
    small.raster.width = 90, small.raster.height = 50;
    EXPECT_THAT(measured(small)["white_slope"].reason(), HasSubstr("too small"));
    Recipe single = scene(40, 10, 3);
    single.duration_s = 0.03;
    EXPECT_FALSE(measured(single)["white_slope"].reason().empty());
}

/// Clouds of all sizes, as smooth noise at ever finer lattices: mean 0, RMS about 1.
double clouds(double x, double y, unsigned seed) {
    const auto corner = [seed](double i, double j, int size) {
        unsigned h = static_cast<unsigned>(static_cast<int>(i)) * 0x9e3779b1U ^
                     static_cast<unsigned>(static_cast<int>(j)) * 0x85ebca6bU ^
                     (seed + static_cast<unsigned>(size)) * 0xc2b2ae35U;
        h ^= h >> 15U, h *= 0x2c1b3c6dU, h ^= h >> 12U, h *= 0x297a2d39U, h ^= h >> 15U;
        return h / 4294967296.0 - 0.5;
    };
    double sum = 0;
    for (int size = 3; size < 200; size *= 2) {
        const double u = x / size, v = y / size, i = std::floor(u), j = std::floor(v), a = u - i, b = v - j;
        sum += std::sqrt(size / 50.0) * ((1 - b) * ((1 - a) * corner(i, j, size) + a * corner(i + 1, j, size)) +
                                         b * ((1 - a) * corner(i, j + 1, size) + a * corner(i + 1, j + 1, size)));
    }
    return 1.6 * sum;
}

// Flames are two veils that rise past each other, which no motion follows. Noise that is not known in them must not be
// taken for what changes there, or else that of the dark around them seems crushed.
TEST(Crushing, IsNotReadIntoFlames) {
    Recipe recipe = scene(44, 10, 3);
    recipe.noise = {};
    testsignal::Random random(9);
    const auto found =
        support::measure_edited<PictureNoise>(recipe, [&](std::vector<std::uint16_t>& luma, std::int64_t frame) {
            const int width = recipe.raster.width, height = recipe.raster.height;
            for (int y = 0; y < height; ++y)
                for (int x = 0; x < width; ++x) {
                    const double field = 2 * static_cast<double>(frame) + y % 2,
                                 from_middle = (x - width / 2.0) / width;
                    const double shape = 1.6 * y / height - 0.6 - 3 * from_middle * from_middle;
                    const double heat =
                        shape + 0.35 * clouds(x, y + 8 * field, 1) + 0.25 * clouds(x, 1.3 * y + 5 * field, 2);
                    const double q = std::clamp(heat, 0.0, 1.3);
                    const double light = std::min(0.3, 0.36 * q) + std::min(0.6, 0.53 * q * q) + 0.06 * q * q * q * q;
                    luma[static_cast<std::size_t>(y * width + x)] =
                        static_cast<std::uint16_t>(std::lround(80 + 800 * light + 5.5 * random.gaussian()));
                }
        });
    for (const char* id : {"black_slope", "white_slope"})
        EXPECT_FALSE(found[id].is_known()) << id << found.number(id) << found[id].note();
}

// Cut off so far beyond black or white that no noise is left there: what moves beside it must not be taken for it.
TEST(Crushing, SaysWhereNoNoiseIsLeft) {
    for (const int bit_depth : {8, 10}) {
        const auto found = measured(scene(44, bit_depth, 3), [](double x) { return std::clamp(x, 50.0, 205.0); });
        for (const char* id : {"black_slope", "white_slope"})
            EXPECT_THAT(found[id].reason(), HasSubstr("hold no noise at all")) << id << found[id].note();
    }
}

// A bend by FFmpeg, of noise and pictures that it made.
TEST(Crushing, IsToldOfWhatFfmpegBent) {
    GUARDBAND_NEEDS_FFMPEG();
    const support::TemporaryFolder folder;
    const auto of = [&](const std::string& filter) {
        const std::string clip = folder.file("bent.mkv");
        // Grey steps from 30 up that move.
        support::ffmpeg(
            "-f lavfi -i \"nullsrc=s=360x288:r=25:d=0.6,format=yuv422p,"
            "geq=lum='30+mod(floor(X/60+N/20)\\,6)*38':cb=128:cr=128,noise=c0s=10:c0f=t" +
            filter + "\" -c:v ffv1 '" + clip + "'");
        return support::measure_file<PictureNoise>(clip);
    };
    EXPECT_NEAR(of("").number("black_slope"), 1, 0.1);
    // A parabola about code 20 that meets the line at 60, with slope 1: a quarter at 30.
    const auto bent =
        of(",geq=lum='if(lt(lum(X\\,Y)\\,60)\\,40+pow(max(0\\,lum(X\\,Y)-20)\\,2)/80\\,lum(X\\,Y))':cb=128:cr=128");
    EXPECT_NEAR(bent.number("black_slope"), 0.28, 0.1);
    EXPECT_THAT(bent["black_slope"].note(), HasSubstr("leans up"));
}

}  // namespace
}  // namespace guardband::measure
