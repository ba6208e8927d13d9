// Data on lines of the field interval as FFmpeg's readers of time code and captions read it.
#include "testsignal/composite/data_lines.h"

#include <fmt/format.h>
#include <gmock/gmock.h>

#include <cmath>
#include <fstream>

#include "../shell.h"
#include "small_reader.h"

namespace guardband::testsignal {
namespace {

using testing::HasSubstr;

constexpr int width = 720, first_line = 8, rows = 16;
constexpr double left_us = 9.0;  ///< of the picture's first column, after the sync edge

/// Some lines of the first field of each frame as a picture of 8 bits, 13.5 million columns a second.
void write_pictures(const CompositeRecipe& recipe, const std::string& path) {
    const std::vector<float> mv = composite_mv(recipe);
    const Timeline timeline(recipe);
    std::ofstream file(path, std::ios::binary);
    for (int frame = 0;; ++frame)
        for (int row = 0; row < rows; ++row) {
            const std::int64_t line = std::int64_t{frame} * recipe.system.lines + first_line - 1 + row;
            const auto at = static_cast<std::int64_t>(std::lround(timeline.edge_sample(line) + left_us * 13.5));
            if (at + width > static_cast<std::int64_t>(mv.size())) return;
            for (int x = 0; x < width; ++x) {
                const double code = 16 + 219 * mv[static_cast<std::size_t>(at + x)] / recipe.system.white_mv;
                file.put(static_cast<char>(std::clamp(code, 0.0, 255.0)));
            }
        }
}

/// What FFmpeg's filter notes of those pictures.
std::string notes_of(const CompositeRecipe& recipe, const std::string& filter) {
    const TemporaryFolder folder;
    write_pictures(recipe, folder / "lines.gray");
    return output_of(
        fmt::format("ffmpeg -v error -f rawvideo -pix_fmt gray -s {}x{} -r 25 -i {} -vf "
                    "{},metadata=print:file=- -f null - 2>/dev/null",
                    width, rows, folder / "lines.gray", filter));
}

std::string label(const MadeTimeCode& code, bool drop) {
    return fmt::format("{:02}:{:02}:{:02}{}{:02}", code.hours, code.minutes, code.seconds, drop ? ';' : ':',
                       code.frames);
}

TEST(DataLinesBesideFfmpeg, TimeCodeIsReadFrameByFrame) {
    if (!has_ffmpeg()) GTEST_SKIP() << "the ffmpeg command is not installed, which reads this test's time code";
    for (const bool lines_525 : {false, true}) {
        auto recipe = plain_recipe(lines_525 ? "NTSC" : "PAL", 0.3, 13'500'000);
        recipe.data.time_code = {14, 16};
        recipe.data.time_code_start = {19, 59, 59, lines_525 ? 27 : 22};
        recipe.data.drop_frame = lines_525;
        const std::string notes = notes_of(recipe, "readvitc=scan_max=16");
        for (int frame = 0; frame < 7; ++frame)
            EXPECT_THAT(notes, HasSubstr("tc_str=" + label(time_code_at(recipe.data, frame, lines_525), lines_525)));
    }
}

TEST(DataLinesBesideFfmpeg, CaptionsAreReadPairByPair) {
    if (!has_ffmpeg()) GTEST_SKIP() << "the ffmpeg command is not installed, which reads this test's captions";
    auto recipe = plain_recipe("NTSC", 0.5, 13'500'000);
    recipe.data.captions = {21};
    recipe.data.caption_text = "LAMP LIT";
    const std::string notes = notes_of(recipe, "readeia608=scan_min=0:scan_max=15");
    for (int n = 0; n < 12; ++n) {
        const auto pair = caption_pair(recipe.data, n);
        EXPECT_THAT(notes, HasSubstr(fmt::format("cc=0x{:02X}{:02X}", pair[0], pair[1]))) << n;
    }
}

TEST(DataLines, StandOnTheirLinesAtTheirHeights) {
    auto recipe = plain_recipe("PAL", 0.08);
    recipe.data.time_code = {19};
    recipe.data.teletext = {20};
    recipe.data.level_percent = 50;
    const SmallReader reader(composite_mv(recipe), -150, 10);
    const Timeline timeline(recipe);
    const auto highest = [&](int line) {
        const auto from = static_cast<std::size_t>(timeline.edge_sample(line - 1) + 10 * 16);
        float top = 0;
        for (std::size_t n = from; n < from + 50 * 16; ++n) top = std::max(top, reader.mv()[n]);
        return top;
    };
    EXPECT_NEAR(highest(19), 275, 1);
    EXPECT_NEAR(highest(20), 231, 1);
    EXPECT_NEAR(highest(18), 0, 1);
    EXPECT_NEAR(highest(21), 0, 1);
}

}  // namespace
}  // namespace guardband::testsignal
