// `made_up_lines` on clips that FFmpeg de-interlaced, and on clips that nobody did.
#include "measure/clip/made_up_lines.h"

#include <gmock/gmock.h>

#include "measure/clip/whole_pass.h"

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

INSTANTIATE_TEST_SUITE_P(Sources, LinesOfFfmpeg,
                         testing::Values(Source{"lines averaged", noisy + ",format=yuv420p,pp=li", "averaged"},
                                         Source{"w3fdif", noisy + ",w3fdif=mode=frame", "made up"},
                                         Source{"lines doubled",
                                                noisy + ",field=top,scale=h=288:flags=neighbor,setsar=1", "doubled"},
                                         Source{"yadif", noisy + ",yadif", "made up"},
                                         Source{"bwdif, bottom first", noisy_bottom + ",bwdif", "made up"},
                                         Source{"interlaced", noisy, "none"},
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

TEST(MadeUpLines, NoneInTheTestSignals) {
    for (const auto scan : {testsignal::Scan::Interlaced, testsignal::Scan::Progressive})
        for (const std::optional<double> snr_db : {std::optional<double>{}, std::optional<double>{30}}) {
            testsignal::Recipe recipe = small_clip(1, snr_db, 1);
            recipe.scan = scan;
            EXPECT_EQ(text_of(measured(recipe), "made_up_lines"), "none");
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
