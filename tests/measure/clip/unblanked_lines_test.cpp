// The displacement of lines where no blanking was captured, and where dark things look like it.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <random>
#include <string>

#include "measure/clip/measured_lines.h"
#include "measure/clip/whole_pass.h"
#include "support/displaced_recipe.h"
#include "table/table.h"
#include "testsignal/recipe_reader.h"

namespace guardband::measure {
namespace {

using support::displaced;
using testsignal::Recipe;

// Without blanking only what differs from line to line can be told.
TEST(LinesWithoutBlanking, TellsTheJitter) {
    for (const double random_ns : {0.0, 30.0, 200.0}) {
        const auto m = measure_lines(displaced([random_ns](Recipe& r) {
            r.blanking.reset();
            r.time_base->random_ns = random_ns;
            r.duration_s = 1.2;
        }));
        const double truth = m.truth.line_jitter_rms_ns;
        EXPECT_NEAR(m.value("line_jitter_rms"), truth, std::max(0.1 * truth, 5.0)) << random_ns;
        for (const char* id : {"time_base_error_rms", "time_base_error_peak", "flagging"}) {
            EXPECT_FALSE(m.figures.find(id)->is_known()) << id;
            EXPECT_NE(m.figures.find(id)->reason().find("without blanking"), std::string::npos) << id;
        }
    }
}

// What stays from frame to frame is not in the figure, which says how large it would be with that: a bend at the top, a
// sine near the frame rate. Nothing much on a clip without a fault.
TEST(LinesWithoutBlanking, SaysWhatStays) {
    for (const double flagging_ns : {0.0, -12000.0}) {
        const auto m = measure_lines(displaced([flagging_ns](Recipe& r) {
            r.blanking.reset();
            r.seed = 71, r.picture.motion_px = 1.4;
            r.time_base->flagging_ns = flagging_ns;
            if (flagging_ns != 0) r.time_base->sine_ns = {1500}, r.time_base->sine_hz = {26.5};
        }));
        const double truth = m.truth.line_jitter_rms_ns;
        EXPECT_LE(m.value("line_jitter_rms"), 5);
        const std::string& note = m.figures.find("line_jitter_rms")->note();
        const std::size_t at = note.find("it would be ");
        ASSERT_NE(at, std::string::npos) << note;
        double with_all_ns = 0;
        ASSERT_EQ(std::sscanf(note.c_str() + at, "it would be %lf ns", &with_all_ns), 1) << note;
        EXPECT_NEAR(with_all_ns, truth, 0.1 * truth + 10) << note;
    }
}

// Strips that stand aside, as behind a blind. One at the bottom alone looks like a switch.
TEST(LinesWithoutBlanking, TakesNoPictureOfStripsForASwitch) {
    for (const bool higher_up : {false, true}) {
        const auto m = support::measure_edited<LineDisplacement>(
            displaced([](Recipe& r) {
                r.blanking.reset();
                r.seed = 5, r.picture.motion_px = 0.7;  // which shows the step in both halves of its lines
                r.duration_s = 0.5;
            }),
            [higher_up](std::vector<std::uint16_t>& luma, std::int64_t) {
                for (std::size_t y = 0; y < 576; ++y) {
                    const std::size_t line = y / 2;
                    if (line < 280 && (!higher_up || line < 150 || line >= 200)) continue;
                    const auto row = luma.begin() + static_cast<std::ptrdiff_t>(720 * y);
                    std::rotate(row, row + 7, row + 720);
                }
            });
        EXPECT_EQ(m["head_switch_line"].is_known(), !higher_up) << higher_up;
    }
}

// Below a horizon, here the scene's mirror image, other things stand: rows that have nothing in common but a chance.
TEST(LinesWithoutBlanking, TakesNoHorizonForASwitch) {
    for (const int horizon : {268, 276, 282}) {
        const auto m =
            support::measure_edited<LineDisplacement>(displaced([](Recipe& r) {
                                                          r.blanking.reset();
                                                          r.seed = 12, r.picture.motion_px = 0.2;
                                                          r.duration_s = 0.5;
                                                      }),
                                                      [horizon](std::vector<std::uint16_t>& luma, std::int64_t) {
                                                          for (int y = 2 * horizon; y < 576; ++y) {
                                                              const auto row = luma.begin() + 720 * y;
                                                              std::reverse(row, row + 720);
                                                          }
                                                      });
        EXPECT_FALSE(m["head_switch_line"].is_known()) << horizon;
    }
}

/// What may hide a picture's own edges in black: a fade, a vignette, an iris, a dark scene that a recorder crushed.
double shaded(double code, const std::string& shade, int x, int y, std::int64_t index) {
    constexpr double black = 64, middle_x = 200, middle_y = 144;
    const double off = std::hypot(x - middle_x, y - middle_y) / middle_x;
    if (shade == "fade") return black + (code - black) * std::min(1.0, static_cast<double>(index) / 20);
    if (shade == "vignette") return black + (code - black) * std::pow(std::cos(std::min(1.5, 1.1 * off)), 4);
    if (shade == "iris") return black + (code - black) * std::clamp(1.25 - std::pow(1.1 * off, 4), 0.0, 1.0);
    return std::max(black, black + 1.3 * (code - 500));
}

// No blanking was captured, so whatever rises out of black is no edge of the lines.
TEST(LinesWithoutBlanking, TakesNoDarkPictureForBlanking) {
    for (const std::string shade : {"fade", "vignette", "iris", "crushed"}) {
        std::mt19937 random(3);
        std::normal_distribution<double> noise(0, 6);
        const auto m = support::measure_edited<LineDisplacement>(
            displaced([](Recipe& r) {
                r.raster.width = 400, r.raster.height = 288;
                r.blanking.reset();
            }),
            [&](std::vector<std::uint16_t>& luma, std::int64_t index) {
                for (int y = 0; y < 288; ++y)
                    for (int x = 0; x < 400; ++x) {
                        auto& code = luma[static_cast<std::size_t>(y) * 400 + static_cast<std::size_t>(x)];
                        const double seen = shaded(code, shade, x, y, index) + noise(random);
                        code = static_cast<std::uint16_t>(std::clamp(seen, 4.0, 1019.0));
                    }
            });
        for (const char* id : {"time_base_error_rms", "time_base_error_peak", "flagging", "head_switch_line"})
            EXPECT_FALSE(m[id].is_known()) << shade << ": " << id;
        EXPECT_LE(m["line_jitter_rms"].number().value_or(0), 8) << shade;
    }
}

// A photograph (package opencv-doc) of a candle and a glass before true black, filmed by an unsteady hand: FFmpeg's
// crop moves over it. Its outlines go together as a line's two edges do.
TEST(LinesWithoutBlanking, TakesNoDarkGroundForBlanking) {
    GUARDBAND_NEEDS_FFMPEG();
    const std::string photograph = "/usr/share/doc/opencv-doc/opencv4/html/HDRtoneMapping_candleSample.jpg";
    if (!std::filesystem::exists(photograph)) GTEST_SKIP() << "the package opencv-doc is not installed";
    const ClipReport report = measured_of_ffmpeg(
        "-framerate 50 -i " + photograph +
        " -vf \"scale=1152:920:flags=bicubic,format=yuv444p,loop=-1:size=1:start=0,setpts=N/FR/TB,crop=720:576:"
        "x='200+60*sin(2*t)+20*sin(7*t)':y='150+40*sin(2.3*t+2)':exact=1,noise=c0s=5:c0f=t,format=yuv422p,"
        "tinterlace=mode=interleave_top,setfield=tff\" -t 4 -c:v ffv1 -level 3 -g 1");
    const quantity::Figure& rms = *report.figures.find("time_base_error_rms");
    ASSERT_FALSE(rms.is_known()) << *rms.number();
    EXPECT_NE(rms.reason().find("dark things"), std::string::npos) << rms.reason();
    EXPECT_FALSE(report.figures.find("flagging")->is_known());
}

// Film by pull-down, without blanking or fault: an outline near the bottom that slants and stays is no switch.
TEST(LinesWithoutBlanking, TakesNoOutlineForAHeadSwitch) {
    const Recipe clean = testsignal::parse_recipe("film.toml", R"(
        name = "film"
        system = "525/60"
        pulldown = [2, 3]
        duration_s = 6
        seed = 1962
        [picture]
        motion_px = 1.5
        luma_bandwidth_mhz = 3.0
        chroma_bandwidth_mhz = 0.7
        [noise]
        snr_db = 44)",
                                                  table::load_table());
    EXPECT_TRUE(std::isnan(measure_lines(clean).value("head_switch_line")));
}

}  // namespace
}  // namespace guardband::measure
