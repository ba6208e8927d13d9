// Noise that a processor or a codec took away or smeared, which must not pass for a clean tape: on our own clips and on
// what FFmpeg's filters against noise leave.
#include <gmock/gmock.h>

#include <cmath>

#include "measured_noise.h"
#include "support/ffmpeg.h"
#include "support/measured_figures.h"
#include "support/numbers_in.h"

namespace guardband::measure {
namespace {

using quantity::Figures;
using testing::HasSubstr;
using testing::Not;
using testsignal::Recipe;

TEST(RemovedNoise, NoNoiseIsNoNumber) {
    for (const bool still : {true, false}) {
        Recipe r = scene(40, 10, motions[0], 7);
        r.noise = {};
        r.picture.still = still;
        const Figures figures = measured(r);
        EXPECT_FALSE(figures.find("luma_snr")->is_known()) << *figures.find("luma_snr")->number();
        EXPECT_FALSE(figures.find("chroma_snr")->is_known());
    }
}

/// Each frame keeps a share of the one before, as a processor against noise does.
Processor smear(double share) {
    return [share, held = support::Planes{}](support::Planes& planes) mutable {
        if (!held.luma.empty())
            for (std::size_t i = 0; i < planes.luma.size(); ++i)
                planes.luma[i] = static_cast<std::uint16_t>(
                    std::lround(share * held.luma[i] + (1 - share) * static_cast<double>(planes.luma[i])));
        held.luma = planes.luma;
    };
}

// What is left of the noise: white noise that each frame mixes in with (1 - share) has (1 - share)² / (1 - share²) of
// its power left, and as much of it in common with the frame before as the share.
TEST(RemovedNoise, NoiseSmearedInTimeIsNoNumber) {
    Recipe r = scene(36, 10, motions[4], 8);
    r.duration_s = 0.8;
    for (const double share : {0.15, 0.4, 0.7}) {
        const Figures figures = measured(r, smear(share));
        ASSERT_FALSE(figures.find("luma_snr")->is_known()) << *figures.find("luma_snr")->number();
        const std::string reason = figures.find("luma_snr")->reason();
        EXPECT_THAT(reason, HasSubstr("smeared the noise in time"));
        EXPECT_THAT(figures.find("chroma_snr")->reason(), HasSubstr("smeared"));
        const auto found = support::numbers_in(reason, R"((\d+) % that .* about (\d+) dB)");
        ASSERT_EQ(found.size(), 2) << reason;
        EXPECT_NEAR(found[0], 100 * share, 6);
        EXPECT_NEAR(found[1], 36 + 10 * std::log10((1 + share) / (1 - share)), 1);
    }
}

// Film on fields repeats pictures, which is no smearing.
TEST(RemovedNoise, FilmIsNotSmeared) {
    Recipe r = scene(38, 10, motions[0], 2);
    r.duration_s = 1.2, r.pulldown = {2, 3};
    EXPECT_NEAR(measured(r).find("luma_snr")->number().value_or(0), 38, 0.7);
}

/// The mean of each line and the next of the frame.
void soften(support::Planes& planes) {
    for (std::size_t i = 0; i + 720 < planes.luma.size(); ++i)
        planes.luma[i] = static_cast<std::uint16_t>((planes.luma[i] + planes.luma[i + 720] + 1) / 2);
}

// FFmpeg's fractal, which moves down by an eighth of a line a field: that changes more over two frames than over one.
TEST(RemovedNoise, SlowMotionDownIsNotSmeared) {
    GUARDBAND_NEEDS_FFMPEG();
    const support::TemporaryFolder folder;
    const std::string clip = folder.file("tilt.mkv");
    support::ffmpeg(
        "-f lavfi -i \"mandelbrot=s=1600x1200:r=50:maxiter=200:start_scale=0.02,trim=end_frame=1,loop=loop=80:size=1,"
        "setpts=N/50/TB,format=yuv422p,crop=800:576:100:200+floor(n/2):exact=1,scale=400:288:flags=area,"
        "noise=alls=5:allf=t+u,tinterlace=mode=interleave_top,setfield=tff\" -frames:v 40 -c:v ffv1 '" +
        clip + "'");
    const auto found = support::measure_file<PictureNoise>(clip);
    EXPECT_TRUE(found["luma_snr"].is_known()) << found["luma_snr"].reason();
}

TEST(RemovedNoise, SaysHowAlikeLinesAre) {
    Recipe r = scene(34, 10, motions[4], 9);
    r.duration_s = 0.6;
    EXPECT_THAT(measured(r).find("luma_snr")->note(), Not(HasSubstr("in common")));
    const std::string note = measured(r, soften).find("luma_snr")->note();
    const auto found = support::numbers_in(note, R"(lines have (\d+) % of it in common)");
    ASSERT_EQ(found.size(), 1) << note;
    EXPECT_NEAR(found[0], 50, 5);
}

struct Filter {
    std::string name, filter;
    bool smears, smooths;
    int noise = 12;
};

void PrintTo(const Filter& f, std::ostream* out) { *out << f.name; }

class NoiseAfterFfmpeg : public testing::TestWithParam<Filter> {};

// Filters against noise that FFmpeg has, on noise that it made.
TEST_P(NoiseAfterFfmpeg, SaysWhatWasDone) {
    GUARDBAND_NEEDS_FFMPEG();
    const support::TemporaryFolder folder;
    const std::string clip = folder.file("filtered.mov");
    support::ffmpeg(
        "-f lavfi -i \"testsrc2=s=720x576:r=25:d=1.2,format=yuv422p10,lutyuv=y=240+(val-64)*0.6,"
        "noise=allf=t:alls=" +
        std::to_string(GetParam().noise) + "," + GetParam().filter + "\" -c:v v210 '" + clip + "'");
    auto found = support::measure_file<PictureNoise>(clip);
    const quantity::Figure& luma = found["luma_snr"];
    EXPECT_EQ(luma.is_known(), !GetParam().smears) << luma.note();
    if (GetParam().smears) {
        EXPECT_THAT(luma.reason(), HasSubstr("smeared the noise in time"));
    } else {
        EXPECT_EQ(luma.note().find("smoothed down") != std::string::npos, GetParam().smooths) << luma.note();
    }
}

// DV throws noise away: the figure is the file's, and where nothing is left no processor is blamed.
TEST(RemovedNoise, SaysThatACodecTookNoiseAway) {
    GUARDBAND_NEEDS_FFMPEG();
    const support::TemporaryFolder folder;
    const std::string clip = folder.file("lossy.dv");
    for (const int noise : {24, 1}) {
        support::ffmpeg(
            "-y -f lavfi -i "
            "\"testsrc2=s=720x576:r=25:d=0.6,format=yuv420p,lutyuv=y=60+(val-16)*0.6,noise=allf=t:alls=" +
            std::to_string(noise) + "\" -c:v dvvideo '" + clip + "'");
        const auto found = support::measure_file<PictureNoise>(clip);
        for (const char* id : {"luma_snr", "chroma_snr"})
            EXPECT_THAT(found[id].is_known() ? found[id].note() : found[id].reason(), HasSubstr("file"))
                << id << ' ' << noise;
        EXPECT_EQ(found["luma_snr"].is_known(), noise == 24);
    }
}

const std::string kernel = "0 0 0 1 2 1 0 0 0";

INSTANTIATE_TEST_SUITE_P(
    Filters, NoiseAfterFfmpeg,
    testing::Values(Filter{"recursive, weak", "hqdn3d=0:0:4:4", true, false, 6},
                    Filter{"recursive", "hqdn3d=0:0:6:6", true, false},
                    Filter{"recursive and smooth", "hqdn3d", true, false},
                    Filter{"means of two", "tmix=2", true, false}, Filter{"means of three", "tmix=3", true, false},
                    Filter{"blurred", "gblur=0.7", false, true},
                    Filter{"blurred along the lines",
                           "convolution='" + kernel + ":" + kernel + ":" + kernel + ":" + kernel + "'", false, false},
                    Filter{"none", "null", false, false}));

}  // namespace
}  // namespace guardband::measure
