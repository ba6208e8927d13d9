// What pictures measured before somebody scaled them: clips scaled here by filters written out below, and by FFmpeg's
// scaler; clips that nobody scaled, which no scaler's step may be read into.
#include "measure/clip/scaling.h"

#include <gmock/gmock.h>

#include <cmath>
#include <functional>

#include "support/ffmpeg.h"
#include "support/made_clip.h"
#include "support/measured_figures.h"

namespace guardband::measure {
namespace {

using support::MeasuredFigures;
using testing::Contains;
using testing::DoubleNear;
using testing::HasSubstr;
using testsignal::Recipe;

/// Changes a luma plane of the recipe's width.
using Scaler = std::function<void(std::vector<std::uint16_t>& luma, int width, int height)>;

enum class Filter { Linear, Cubic };

double weight(Filter filter, double x) {
    x = std::abs(x);
    if (filter == Filter::Linear) return std::max(0.0, 1 - x);
    // Keys' cubic convolution, a = -1/2.
    if (x < 1) return 1.5 * x * x * x - 2.5 * x * x + 1;
    return x < 2 ? -0.5 * x * x * x + 2.5 * x * x - 4 * x + 2 : 0;
}

/// Stretches the first `before` of `count` samples that lie `step` apart over all of them.
void stretch(std::uint16_t* first, int count, int step, int before, Filter filter) {
    std::vector<double> old(static_cast<std::size_t>(count));
    for (int i = 0; i < count; ++i) old[static_cast<std::size_t>(i)] = first[i * step];
    for (int i = 0; i < count; ++i) {
        const double at = (i + 0.5) * before / count - 0.5;
        const int left = static_cast<int>(std::floor(at));
        double sum = 0;
        for (int tap = left - 1; tap <= left + 2; ++tap)
            sum += weight(filter, at - tap) * old[static_cast<std::size_t>(std::clamp(tap, 0, before - 1))];
        first[i * step] = static_cast<std::uint16_t>(std::clamp(std::lround(sum), 0L, 1023L));
    }
}

Scaler along(int before, Filter filter) {
    return [=](std::vector<std::uint16_t>& luma, int width, int height) {
        for (int y = 0; y < height; ++y)
            stretch(luma.data() + static_cast<std::ptrdiff_t>(y) * width, width, 1, before, filter);
    };
}

Scaler down(int before, Filter filter, bool by_field) {
    return [=](std::vector<std::uint16_t>& luma, int width, int height) {
        for (int x = 0; x < width; ++x) {
            if (!by_field) {
                stretch(luma.data() + x, height, width, before, filter);
                continue;
            }
            for (int field = 0; field < 2; ++field)
                stretch(luma.data() + x + static_cast<std::ptrdiff_t>(field) * width, height / 2, 2 * width, before / 2,
                        filter);
        }
    };
}

MeasuredFigures measured(const Recipe& recipe, const Scaler& scaler = {}) {
    return support::measure_edited<Scaling>(recipe, [&](std::vector<std::uint16_t>& luma, std::int64_t) {
        if (scaler) scaler(luma, recipe.raster.width, recipe.raster.height);
    });
}

Recipe scene(std::optional<double> snr_db, double motion_px, int bit_depth = 10) {
    Recipe recipe;
    recipe.raster.width = 400, recipe.raster.height = 288;
    recipe.duration_s = 1.2;
    recipe.bit_depth = bit_depth;
    recipe.picture.motion_px = motion_px, recipe.picture.direction_deg = 20, recipe.picture.still = motion_px == 0;
    recipe.noise.snr_db = snr_db;
    return recipe;
}

std::vector<double> sizes(const quantity::Figure& figure) {
    std::vector<double> all = figure.alternatives();
    if (const auto number = figure.number()) all.insert(all.begin(), *number);
    return all;
}

struct Case {
    std::string name;
    int before;
    Filter filter;
    std::optional<double> snr_db;
    double motion_px;
    int bit_depth = 10;
};

void PrintTo(const Case& c, std::ostream* out) { *out << c.name; }

class Stretched : public testing::TestWithParam<Case> {};

TEST_P(Stretched, AlongTheLines) {
    const Case& c = GetParam();
    const auto found = measured(scene(c.snr_db, c.motion_px, c.bit_depth), along(c.before, c.filter));
    const quantity::Figure& width = found["scaled_from_width"];
    // Of few samples more or less than there are now both are named.
    if (c.before > 380)
        EXPECT_THAT(width.reason(), HasSubstr("from 384, 416"));
    else
        EXPECT_NEAR(found.number("scaled_from_width"), c.before, 1) << width.reason();
    EXPECT_FALSE(found["scaled_from_height"].is_known()) << found["scaled_from_height"].note();
}

INSTANTIATE_TEST_SUITE_P(
    Widths, Stretched,
    testing::Values(Case{"ninth", 356, Filter::Linear, 38, 1.3}, Case{"ninth, cubic", 356, Filter::Cubic, 38, 1.3},
                    Case{"still", 356, Filter::Cubic, 44, 0}, Case{"noisy", 356, Filter::Cubic, 28, 1.3},
                    Case{"8 bits", 356, Filter::Cubic, 34, 1.3, 8}, Case{"few samples", 384, Filter::Linear, 38, 1.3},
                    Case{"half and less", 195, Filter::Cubic, 38, 1.3}));

TEST(Scaling, TellsFieldsFromFrames) {
    for (const Filter filter : {Filter::Linear, Filter::Cubic}) {
        const auto by_field = measured(scene(36, 0), down(240, filter, true));
        EXPECT_THAT(sizes(by_field["scaled_from_height"]), Contains(DoubleNear(240, 1)));
        EXPECT_THAT(by_field["scaled_from_height"].note(), HasSubstr("field by field"));
        EXPECT_FALSE(by_field["scaled_from_width"].is_known());
        const auto by_frame = measured(scene(36, 0), down(240, filter, false));
        EXPECT_THAT(sizes(by_frame["scaled_from_height"]), Contains(DoubleNear(240, 1)));
        EXPECT_THAT(by_frame["scaled_from_height"].note(), testing::Not(HasSubstr("field by field")));
    }
}

TEST(Scaling, IsNotReadIntoPicturesAsTheyWere) {
    for (const std::optional<double> snr_db : {std::optional<double>{}, std::optional<double>(28)})
        for (const double motion : {0.0, 0.4, 1.0, 2.7})
            for (const int bit_depth : {8, 10}) {
                Recipe recipe = scene(snr_db, motion, bit_depth);
                recipe.picture.luma_bandwidth_mhz = motion > 1 ? 2.5 : 5;
                const auto found = measured(recipe);
                for (const char* id : {"scaled_from_width", "scaled_from_height"})
                    EXPECT_FALSE(found[id].is_known()) << motion << " px: " << found[id].note();
            }
}

// Bars of a picture come round too: a fence, lit by a light that flickers or shaken by its lines.
TEST(Scaling, TellsItFromAFence) {
    for (const int period : {9, 20, 45})
        for (const bool shaken : {false, true}) {
            int count = 0;
            const Scaler fence = [&](std::vector<std::uint16_t>& luma, int width, int height) {
                const double light = shaken ? 1 : 1 + 0.05 * std::sin(1.7 * count);
                for (int y = 0; y < height; ++y)
                    for (int x = 0; x < width; ++x) {
                        auto& sample = luma[static_cast<std::size_t>(y * width + x)];
                        const int at = shaken ? x + (y * 7 + count * 3) % 3 : x;
                        if (at % period < period / 3) sample = static_cast<std::uint16_t>(sample / 2);
                        sample = static_cast<std::uint16_t>(std::min(1019.0, light * sample));
                    }
                ++count;
            };
            const auto found = measured(scene(40, 0), fence);
            EXPECT_FALSE(found["scaled_from_width"].is_known())
                << "every " << period << ": " << found["scaled_from_width"].note();
        }
}

TEST(Scaling, SaysWhyNot) {
    const auto nothing = measured(scene({}, 0));
    EXPECT_THAT(nothing["scaled_from_width"].reason(), HasSubstr("nothing moves"));
    Recipe small = scene(40, 1);
    small.raster.width = 128, small.raster.height = 96;
    EXPECT_THAT(measured(small)["scaled_from_height"].reason(), HasSubstr("too small"));
    Recipe single = scene(40, 1);
    single.duration_s = 0.04;
    EXPECT_FALSE(measured(single)["scaled_from_width"].reason().empty());
    Recipe odd = scene(40, 1);
    odd.raster.width = 258, odd.raster.height = 194, odd.duration_s = 0.4;
    EXPECT_FALSE(measured(odd)["scaled_from_width"].is_known());
}

// FFmpeg's scaler, on pictures and noise that are FFmpeg's too.
struct Source {
    std::string name, filter;
    double width = 0, height = 0;  ///< before; 0: not scaled
    std::string encoder = "-c:v v210", file = "a.mov";
};

void PrintTo(const Source& s, std::ostream* out) { *out << s.name; }

class ScalerOfFfmpeg : public testing::TestWithParam<Source> {
protected:
    /// Pictures to scale, made once.
    static std::string pictures() {
        static const support::TemporaryFolder folder;
        static const std::string path = [] {
            std::string made = folder.file("zoom.mov");
            support::ffmpeg(
                "-f lavfi -i \"mandelbrot=s=720x576:r=25:maxiter=60:end_scale=0.01:end_pts=400\" -frames:v 24 "
                "-c:v v210 '" +
                made + "'");
            return made;
        }();
        return path;
    }
};

TEST_P(ScalerOfFfmpeg, IsTold) {
    GUARDBAND_NEEDS_FFMPEG();
    const Source& s = GetParam();
    const support::TemporaryFolder folder;
    const std::string path = folder.file(s.file);
    support::ffmpeg("-i '" + pictures() + "' -vf \"" + s.filter + "\" " + s.encoder + " '" + path + "'");
    const auto found = support::measure_file<Scaling>(path);
    const auto expect = [&](const char* id, double before) {
        if (before == 0)
            EXPECT_FALSE(found[id].is_known()) << found[id].note();
        else
            EXPECT_NEAR(found.number(id), before, 1) << found[id].reason();
    };
    expect("scaled_from_width", s.width);
    expect("scaled_from_height", s.height);
}

const std::string noisy = "noise=alls=8:allf=t,format=yuv422p10,", plain = "scale=720:576:interl=1:flags=";

INSTANTIATE_TEST_SUITE_P(
    Sources, ScalerOfFfmpeg,
    testing::Values(
        Source{"352, linear", "scale=352:576," + noisy + "scale=720:576:flags=bilinear", 352},
        Source{"640, cubic", "scale=640:576," + noisy + "scale=720:576:flags=bicubic", 640},
        Source{"640, windowed sinc", "scale=640:576," + noisy + "scale=720:576:flags=lanczos", 640},
        Source{"704, cubic", "scale=704:576," + noisy + "scale=720:576:flags=bicubic", 704},
        Source{"768, cubic", "scale=768:576," + noisy + "scale=720:576:flags=bicubic", 768},
        Source{"1280, means of areas", "scale=1280:576," + noisy + "scale=720:576:flags=area", 1280},
        Source{"480 lines, cubic, by field", "scale=720:480," + noisy + plain + "bicubic", 0, 480},
        Source{"480 lines, windowed sinc, by field", "scale=720:480," + noisy + plain + "lanczos", 0, 480},
        Source{"480 lines, cubic, by frame", "scale=720:480," + noisy + "scale=720:576:flags=bicubic", 0, 480},
        Source{"240 lines, by frame", "scale=720:240," + noisy + "scale=720:576:flags=spline", 0, 240},
        Source{"576 lines to 480, linear, by field", noisy + "scale=720:480:interl=1:flags=bilinear", 0, 576},
        Source{"640, then DV", "scale=640:576," + noisy + "scale=720:576:flags=bilinear,format=yuv420p", 640, 0,
               "-c:v dvvideo", "a.dv"},
        Source{"not scaled", noisy + "null"}, Source{"not scaled, no noise", "format=yuv422p"},
        Source{"DV", noisy + "format=yuv420p", 0, 0, "-c:v dvvideo", "a.dv"}, Source{"blurred", noisy + "gblur=0.8"},
        Source{"MPEG-2", noisy + "format=yuv420p", 0, 0, "-c:v mpeg2video -b:v 4M -g 12 -bf 2", "a.mpg"}));

// Moving pictures with two moments in their lines: scaled as they lie they are told from such as were scaled field by
// field, where only every second line follows the step. Sizes that leave the same trace are all named.
TEST_F(ScalerOfFfmpeg, TellsFramesOfTwoFieldsFromFields) {
    GUARDBAND_NEEDS_FFMPEG();
    for (const bool by_field : {false, true}) {
        const support::TemporaryFolder folder;
        const std::string path = folder.file("a.mov");
        support::ffmpeg("-i '" + pictures() + "' -vf \"scale=720:480," + noisy +
                        "tinterlace=mode=interleave_top,scale=720:576:flags=bicubic:interl=" + (by_field ? "1" : "0") +
                        "\" -c:v v210 '" + path + "'");
        const auto found = support::measure_file<Scaling>(path);
        EXPECT_NEAR(found.number("scaled_from_height"), 480, 1) << found["scaled_from_height"].reason();
        EXPECT_EQ(found["scaled_from_height"].note().find("field by field") != std::string::npos, by_field);
    }
}

TEST_F(ScalerOfFfmpeg, NamesAllSizesThatLeaveTheSame) {
    GUARDBAND_NEEDS_FFMPEG();
    const support::TemporaryFolder folder;
    const std::string path = folder.file("a.mov");
    support::ffmpeg("-i '" + pictures() + "' -vf \"scale=960:576," + noisy + "scale=720:576:flags=area\" -c:v v210 '" +
                    path + "'");
    EXPECT_THAT(support::measure_file<Scaling>(path)["scaled_from_width"].reason(), HasSubstr("480, 960 or 1200"));
}

}  // namespace
}  // namespace guardband::measure
