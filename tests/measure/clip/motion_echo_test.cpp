// `mixed_in_time`: pictures that hold two moments. Test signals, two of whose fields or frames were mixed here by known
// shares, and clips that FFmpeg's own filters mixed; pictures of one moment each, in which none may be heard.
#include "measure/clip/motion_echo.h"

#include <gmock/gmock.h>

#include <cmath>
#include <functional>
#include <numbers>

#include "measure/clip/picture_noise.h"
#include "measure/clip/whole_pass.h"
#include "support/measured_figures.h"
#include "testsignal/gaussian_noise.h"

namespace guardband::measure {
namespace {

using testing::HasSubstr;
using testing::Not;

using Luma = std::vector<std::uint16_t>;
using Mixer = std::function<void(Luma& luma, int width)>;

std::string mixed(const testsignal::Recipe& recipe, const Mixer& mixer) {
    const auto found = support::measure_edited<PictureNoise>(recipe, [&](Luma& luma, std::int64_t) {
        if (mixer) mixer(luma, recipe.raster.width);
    });
    const quantity::Figure& figure = found["mixed_in_time"];
    const auto* text = std::get_if<std::string>(&figure.value());
    return text != nullptr ? *text : "not known";
}

/// Each line a mean of itself, twice, and of those beside it, as a de-interlacer does that mixes the fields.
void mix_fields(Luma& luma, int width) {
    const Luma old = luma;
    const auto w = static_cast<std::size_t>(width);
    for (std::size_t i = w; i + w < luma.size(); ++i)
        luma[i] = static_cast<std::uint16_t>((old[i - w] + 2 * old[i] + old[i + w] + 2) / 4);
}

/// Puts so much of what came out before into each frame.
Mixer keep(double share) {
    return [share, before = Luma()](Luma& luma, int) mutable {
        if (before.size() == luma.size())
            for (std::size_t i = 0; i < luma.size(); ++i)
                luma[i] = static_cast<std::uint16_t>(std::lround((1 - share) * luma[i] + share * before[i]));
        before = luma;
    };
}

struct Case {
    double motion_px;  ///< per field, per frame where there is one moment in each
    std::optional<double> snr_db;
    int bit_depth = 10;
    double direction_deg = 0;
};

void PrintTo(const Case& c, std::ostream* out) {
    *out << c.motion_px << " px, " << c.snr_db.value_or(99) << " dB, " << c.bit_depth << " bits";
}

class MixedMoments : public testing::TestWithParam<Case> {
protected:
    static testsignal::Recipe scene(testsignal::Scan scan) {
        const Case& c = GetParam();
        testsignal::Recipe recipe = small_clip(c.motion_px, c.snr_db, 0.7);
        recipe.scan = scan, recipe.bit_depth = c.bit_depth, recipe.picture.direction_deg = c.direction_deg;
        if (scan == testsignal::Scan::Progressive) recipe.picture.motion_px *= 2;
        return recipe;
    }
};

TEST_P(MixedMoments, AreNamed) {
    const bool fast = GetParam().motion_px > 6;
    EXPECT_EQ(mixed(scene(testsignal::Scan::Interlaced), mix_fields), fast ? "two fields" : "not known");
    EXPECT_EQ(mixed(scene(testsignal::Scan::Progressive), keep(0.5)), "frames before");
    EXPECT_EQ(mixed(scene(testsignal::Scan::Interlaced), keep(0.3)), "frames before");
}

TEST_P(MixedMoments, AreNotReadIntoPicturesOfOne) {
    for (const auto scan : {testsignal::Scan::Interlaced, testsignal::Scan::Progressive})
        EXPECT_EQ(mixed(scene(scan), {}), GetParam().motion_px > 6 ? "none" : "not known");
}

INSTANTIATE_TEST_SUITE_P(Motions, MixedMoments,
                         testing::Values(Case{4, 42}, Case{5.3, 36}, Case{6.5, 42, 8, 5}, Case{7.6, {}, 8},
                                         Case{7, 38, 10, -8}));

TEST(MixedMoments, SlowMotionGivesAReason) {
    EXPECT_EQ(mixed(small_clip(1, 42, 0.7), mix_fields), "not known");
    EXPECT_EQ(mixed(small_clip(0, 42, 0.7), {}), "not known");
}

/// Bias and scatter of the strength itself: spectra of noise with an echo of known share.
TEST(MotionEcho, FindsTheShareOfAnEcho) {
    testsignal::Random noise(7);
    for (const double share : {0.0, 0.15, 0.3, 0.6})
        for (const double lag : {6.0, 9.3, 12.0}) {
            MotionEcho echo;
            for (int block = 0; block < 400; ++block) {
                std::array<float, MotionEcho::bins> power{}, none{};
                for (std::size_t k = 0; k < power.size(); ++k) {
                    const double turn = 2 * std::numbers::pi * lag * static_cast<double>(k) / rows::spectrum_samples;
                    double energy = 0;
                    for (int line = 0; line < 8; ++line)
                        energy += std::pow(noise.gaussian(), 2) + std::pow(noise.gaussian(), 2);
                    power[k] = static_cast<float>(energy * (1 + 2 * share * std::cos(turn) + share * share) /
                                                  (1 + static_cast<double>(k * k)));
                }
                echo.add(power, none, static_cast<float>(lag));
            }
            const auto found = echo.reading(MotionEcho::Lag::Frame);
            ASSERT_TRUE(found);
            EXPECT_NEAR(found->strength, 2 * share, 4 * found->error + 0.05 * share) << lag;
            EXPECT_LT(found->error, 0.02);
        }
}

/// FFmpeg's fractal, seen through the aperture of a camera that covers two lines, panned by `step` samples a field.
std::string panned(int step, const std::string& filter) {
    return "-f lavfi -i \"mandelbrot=s=1100x288:r=50:maxiter=200:start_scale=0.02,trim=end_frame=1,loop=loop=80:size=1,"
           "setpts=N/50/TB,format=yuv422p,gblur=sigma=0.01:sigmaV=0.8,crop=400:288:" +
           std::to_string(step) + "*n:0:exact=1," + filter + "\" -frames:v 34 -c:v ffv1";
}

struct Source {
    std::string name, filter, expected;
};

void PrintTo(const Source& s, std::ostream* out) { *out << s.name; }

class MixersOfFfmpeg : public testing::TestWithParam<Source> {};

TEST_P(MixersOfFfmpeg, AreNamed) {
    GUARDBAND_NEEDS_FFMPEG();
    const ClipReport report = measured_of_ffmpeg(panned(6, GetParam().filter));
    EXPECT_EQ(text_of(report, "mixed_in_time"), GetParam().expected);
    const quantity::Figure& noise = *report.figures.find("luma_snr");
    if (GetParam().expected == "frames before")
        EXPECT_FALSE(noise.is_known());
    else
        EXPECT_THAT(noise.reason(), Not(HasSubstr("trails")));
}

const std::string noise = "noise=alls=5:allf=t+u,", woven = noise + "tinterlace=mode=interleave_top,setfield=tff";
const std::string frames = noise + "fps=25";

INSTANTIATE_TEST_SUITE_P(Filters, MixersOfFfmpeg,
                         testing::Values(Source{"interlaced", woven, "none"}, Source{"progressive", frames, "none"},
                                         Source{"linear blend", woven + ",format=yuv420p,pp=lb", "two fields"},
                                         Source{"fields' mean", noise + "tblend=all_mode=average,fps=25", "two fields"},
                                         Source{"mean of two", frames + ",tmix=frames=2", "frames before"},
                                         Source{"a quarter", frames + ",tmix=frames=2:weights='1 3'", "frames before"},
                                         Source{"de-interlaced", woven + ",yadif", "none"}));

}  // namespace
}  // namespace guardband::measure
