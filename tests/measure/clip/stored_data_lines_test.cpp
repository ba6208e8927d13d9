// Time code and captions in the first rows of clips.
#include "measure/clip/stored_data_lines.h"

#include <gmock/gmock.h>

#include "measure/clip/whole_pass.h"
#include "testsignal/composite/data_painter.h"

namespace guardband::measure {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

constexpr int rows_above = 32;

/// A clip of the raster 720 by 608, whose first 32 rows are lines 7 to 22 and 320 to 335, or of 720 by 512.
testsignal::Recipe tall_clip(bool lines_525) {
    testsignal::Recipe recipe;
    recipe.raster.width = 720, recipe.raster.height = lines_525 ? 512 : 608;
    recipe.duration_s = 0.48;
    recipe.noise.snr_db = 40;
    if (lines_525) recipe.raster.frame_rate = quantity::Rational(30000, 1001);
    return recipe;
}

/// Draws rows of data as a digitiser stores them: black elsewhere.
class DataEdit {
public:
    DataEdit(testsignal::DataLines data, bool lines_525)
        : lines_525_(lines_525),
          system_(testsignal::composite_system(built_in(), lines_525 ? "NTSC" : "PAL")),
          painter_(data, system_) {}

    void operator()(testsignal::ClipFrame& frame, int index) const {
        testsignal::LineCanvas canvas;
        for (int y = 0; y < rows_above; ++y) {
            const int number = y / 2 + (y % 2 == 0 ? 7 : lines_525_ ? 270 : 320);
            canvas.begin(720, (lines_525_ ? 122 : 132) / 13.5, 1 / 13.5);
            painter_.draw(std::int64_t{index} * system_.lines + number - 1, number, canvas);
            for (int x = 0; x < 720; ++x)
                frame.planes[0].row(y)[x] = static_cast<std::uint16_t>(
                    std::lround(64 + 876 * canvas.samples()[static_cast<std::size_t>(x)] / system_.white_mv));
        }
    }

private:
    bool lines_525_;
    testsignal::CompositeSystem system_;
    testsignal::DataPainter painter_;
};

const std::vector<quantity::LineService>& services(const ClipReport& report) {
    return std::get<std::vector<quantity::LineService>>(report.figures.find("data_lines")->value());
}

TEST(StoredDataLines, OfTimeCodeRunOnAndTellAJump) {
    for (const bool lines_525 : {false, true}) {
        testsignal::DataLines data;
        data.time_code = lines_525 ? std::vector{14, 277} : std::vector{19, 332};
        data.time_code_start = {9, 59, 59, 20};
        data.drop_frame = lines_525;
        const ClipReport steady = measured(tall_clip(lines_525), DataEdit(data, lines_525));
        ASSERT_EQ(services(steady).size(), 1U);
        const quantity::LineService& found = services(steady)[0];
        EXPECT_EQ(found.name, "time code");
        EXPECT_TRUE(found.stored_rows);
        EXPECT_EQ(found.lines, lines_525 ? (std::vector{14, 15}) : (std::vector{24, 25}));
        EXPECT_EQ(found.fields, found.of_fields);
        EXPECT_EQ(found.right, 1);
        EXPECT_EQ(found.says, lines_525 ? "09:59:59;20 to 10:00:00;03, without a jump"
                                        : "09:59:59:20 to 10:00:00:06, without a jump");
        data.jump_at_frame = 6, data.jump_by_frames = 10;
        const ClipReport jumped = measured(tall_clip(lines_525), DataEdit(data, lines_525));
        EXPECT_THAT(events_of(jumped, "time code jumps"), ElementsAre("6+-1"));
    }
}

TEST(StoredDataLines, OfCaptionsGiveTheirText) {
    testsignal::DataLines data;
    data.captions = {21, 284};
    data.caption_text = "LAMP LIT";
    const ClipReport report = measured(tall_clip(true), DataEdit(data, true));
    ASSERT_EQ(services(report).size(), 1U);
    EXPECT_EQ(services(report)[0].name, "captions");
    EXPECT_THAT(services(report)[0].lines, ElementsAre(28, 29));
    EXPECT_EQ(services(report)[0].right, 1);
    EXPECT_THAT(services(report)[0].says, testing::StartsWith("\"LAMP LIT"));
}

TEST(StoredDataLines, AreNoneInAPicture) {
    for (const bool lines_525 : {false, true}) {
        const ClipReport report = measured(tall_clip(lines_525));
        EXPECT_THAT(services(report), IsEmpty());
        EXPECT_THAT(events_of(report, "time code jumps"), IsEmpty());
    }
    EXPECT_FALSE(measured(small_clip(1, {}, 0.2)).figures.find("data_lines")->is_known());
}

}  // namespace
}  // namespace guardband::measure
