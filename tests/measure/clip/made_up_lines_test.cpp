// `made_up_lines` on clips that FFmpeg de-interlaced, and on clips that nobody did.
#include "measure/clip/made_up_lines.h"

#include <gmock/gmock.h>

#include <cmath>

#include "measure/clip/whole_pass.h"
#include "testsignal/gaussian_noise.h"

namespace guardband::measure {
namespace {

struct Source {
    std::string name, filter, expected, encoder = "-c:v ffv1 -level 3 -g 1", file = "a.mkv";
};

void PrintTo(const Source& s, std::ostream* out) { *out << s.name; }

class LinesOfFfmpeg : public testing::TestWithParam<Source> {};

TEST_P(LinesOfFfmpeg, AreTold) {
    GUARDBAND_NEEDS_FFMPEG();
    const Source& s = GetParam();
    const ClipReport report =
        measured_of_ffmpeg("-f lavfi -i \"testsrc2=s=400x288:r=50:d=1.4," + s.filter + "\" " + s.encoder, s.file);
    EXPECT_EQ(text_of(report, "made_up_lines"), s.expected) << report.figures.find("made_up_lines")->note();
}

const std::string noisy = "noise=alls=10:allf=t,format=yuv422p10,tinterlace=mode=interleave_top,setfield=tff";
const std::string noisy_bottom = "noise=alls=10:allf=t,format=yuv422p10,tinterlace=mode=interleave_bottom,setfield=bff";

INSTANTIATE_TEST_SUITE_P(
    Sources, LinesOfFfmpeg,
    testing::Values(
        Source{"lines averaged", noisy + ",format=yuv420p,pp=li", "averaged"},
        Source{"w3fdif", noisy + ",w3fdif=mode=frame", "made up"},
        Source{"lines doubled", noisy + ",field=top,scale=h=288:flags=neighbor,setsar=1", "doubled"},
        Source{"yadif", noisy + ",yadif", "made up"}, Source{"bwdif, bottom first", noisy_bottom + ",bwdif", "made up"},
        Source{"linear", noisy + ",field=top,scale=h=288:flags=bilinear,setsar=1", "interpolated"},
        Source{"cubic, bottom", noisy_bottom + ",field=bottom,scale=h=288:flags=bicubic", "interpolated"},
        Source{"windowed sinc, 8 bits", noisy + ",format=yuv420p,field=top,scale=h=288:flags=lanczos", "interpolated"},
        Source{"estdif", noisy + ",estdif=mode=frame", "made up"},
        Source{"fields mixed", noisy + ",format=yuv420p,pp=lb", "none"}, Source{"interlaced", noisy, "none"},
        Source{"progressive", "noise=alls=10:allf=t,format=yuv422p10,fps=25", "none"},
        Source{"progressive, no noise", "format=yuv422p10,fps=25", "none"}));

// FFmpeg's pattern moved up by a line a field: each line of the second field shows what the one above it did.
TEST(MadeUpLines, APictureThatRollsByALineAFieldIsTaken) {
    GUARDBAND_NEEDS_FFMPEG();
    const ClipReport report = measured_of_ffmpeg(
        "-f lavfi -i \"mandelbrot=s=400x500:r=50,trim=end_frame=1,loop=loop=70:size=1,setpts=N/50/TB,format=yuv422p,"
        "crop=400:288:0:n:exact=1,tinterlace=mode=interleave_top,setfield=tff\" -c:v ffv1");
    EXPECT_NE(text_of(report, "made_up_lines"), "doubled");
}

// Doubled lines that went through DV: not found, and that they would not be is said.
TEST(MadeUpLines, SaysWhatALossyCodecHides) {
    GUARDBAND_NEEDS_FFMPEG();
    const ClipReport report = measured_of_ffmpeg(
        "-f lavfi -i \"mandelbrot=s=720x288:r=25,noise=alls=8:allf=t,scale=720:576:flags=neighbor,format=yuv420p\" "
        "-frames:v 12 "
        "-c:v dvvideo",
        "a.dv");
    EXPECT_EQ(text_of(report, "made_up_lines"), "none");
    EXPECT_THAT(report.figures.find("made_up_lines")->note(), testing::HasSubstr("would not show"));
}

TEST(MadeUpLines, NoneInTheTestSignals) {
    for (const auto scan : {testsignal::Scan::Interlaced, testsignal::Scan::Progressive})
        for (const std::optional<double> snr_db : {std::optional<double>{}, std::optional<double>{30}}) {
            testsignal::Recipe recipe = small_clip(1, snr_db, 1);
            recipe.scan = scan;
            EXPECT_EQ(text_of(measured(recipe), "made_up_lines"), "none");
        }
}

/// What is left of known noise, and the weights: a stretch to twice the lines leaves rounding alone.
TEST(Prediction, LeavesWhatDoesNotFollow) {
    testsignal::Random noise(3);
    constexpr int width = 256 + 2 * Prediction::reach, height = 120;
    for (const double spread : {3.0, 12.0}) {
        std::vector<std::uint16_t> plain(std::size_t{width} * height), stretched(plain.size());
        for (auto& sample : plain) sample = static_cast<std::uint16_t>(std::lround(400 + spread * noise.gaussian()));
        for (int y = 1; y + 1 < height; ++y)
            for (int x = 0; x < width; ++x) {
                const auto at = [&](int row) {
                    return static_cast<double>(plain[std::size_t(row) * width + std::size_t(x)]);
                };
                stretched[std::size_t(y) * width + std::size_t(x)] = static_cast<std::uint16_t>(
                    std::lround(0.75 * at(y / 2 + 20) + 0.25 * at(y / 2 + 20 + (y % 2 == 0 ? -1 : 1))));
            }
        const auto fit = [&](const std::vector<std::uint16_t>& samples) {
            Prediction prediction;
            for (int y = 20; y < 80; y += 2) {
                std::array<const std::uint16_t*, Prediction::taps> rows{};
                for (std::size_t tap = 0; tap < rows.size(); ++tap)
                    rows[tap] = samples.data() + (std::size_t(y) + tap - Prediction::reach) * width;
                prediction.add_across(rows, Prediction::reach, 256);
            }
            return prediction.fit();
        };
        // White noise follows from its neighbours by their mean alone: a seventh more than its own square is left.
        EXPECT_NEAR(fit(plain).left / (spread * spread + 1.0 / 12), 7.0 / 6, 0.06);
        EXPECT_LT(fit(stretched).left, 1.3 * fit(stretched).rounding);
        EXPECT_GT(std::abs(fit(stretched).weights[4] - fit(stretched).weights[2]), 0.4);
    }
}

TEST(MadeUpLines, APictureWithoutDetailGivesAReason) {
    const ClipReport report = measured(small_clip(1, {}, 0.4), [](testsignal::ClipFrame& frame, int) {
        std::ranges::fill(frame.planes[0].samples, std::uint16_t{500});
    });
    EXPECT_FALSE(report.figures.find("made_up_lines")->is_known());
}

}  // namespace
}  // namespace guardband::measure
