// The frame rate of clips that the ffmpeg command made, through the media door.
#include <gmock/gmock.h>

#include "measure/pass.h"
#include "support/ffmpeg.h"

namespace guardband::measure {
namespace {

class FrameRateOfClips : public testing::Test {
protected:
    void SetUp() override { GUARDBAND_NEEDS_FFMPEG(); }

    std::string file(const std::string& name) const { return folder_.file(name); }

    ClipReport measure(const std::string& name, const std::string& arguments) const {
        support::ffmpeg(arguments + " " + file(name));
        return measure_clip(*media::open_clip(file(name)), table_);
    }

    static double number(const ClipReport& report, const std::string& id) {
        return report.figures.find(id)->number().value_or(-1);
    }

private:
    support::TemporaryFolder folder_;
    table::Table table_ = table::load_table();
};

const std::string lossless = " -vsync passthrough -c:v ffv1 -level 3";

std::string source(const std::string& rate, const std::string& filters = "") {
    return "-f lavfi -i \"testsrc2=s=192x160:r=" + rate + ":d=8,format=yuv422p" + filters + "\"";
}

TEST_F(FrameRateOfClips, IsTheRateTheyWereMadeAt) {
    const std::vector<std::pair<std::string, double>> rates = {{"24000/1001", 24000 / 1001.0},
                                                               {"25", 25},
                                                               {"30000/1001", 30000 / 1001.0},
                                                               {"50", 50},
                                                               {"60000/1001", 60000 / 1001.0}};
    const std::vector<std::pair<std::string, std::string>> kinds = {{"a.mkv", lossless},
                                                                    {"a.mov", " -c:v mjpeg"},
                                                                    {"a.avi", " -c:v mjpeg"},
                                                                    {"a.ts", " -pix_fmt yuv420p -c:v mpeg2video"}};
    for (const auto& [rate, truth] : rates)
        for (const auto& [name, codec] : kinds) {
            if (rate != "30000/1001" && name != "a.mkv" && name != "a.ts")
                continue;  // two containers have clocks of their own
            const ClipReport report = measure(name, source(rate) + codec);
            const quantity::Figure& figure = *report.figures.find("frame_rate");
            ASSERT_TRUE(figure.is_known()) << rate << name;
            EXPECT_NEAR(*figure.number() / truth, 1, 5e-6) << rate << name;  // 8 s; stamps of 1 ms in the worst case
            EXPECT_LE(std::abs(*figure.number() - truth), 2 * *figure.uncertainty() + 1e-9) << rate << name;
            EXPECT_EQ(number(report, "missing_frames"), 0) << rate << name;
        }
}

// The filters say which frames are gone. One in ten, of 200: 20, of which the last shows no gap. From the fourth on one
// in seven: 29, the last at the end.
TEST_F(FrameRateOfClips, FindsWhatWasDropped) {
    const ClipReport one_in_ten = measure("a.mkv", source("25", ",shuffleframes=0 1 2 3 4 5 6 7 8 -1") + lossless);
    EXPECT_EQ(one_in_ten.frames, 180);
    EXPECT_EQ(number(one_in_ten, "missing_frames"), 19);
    EXPECT_NEAR(number(one_in_ten, "frame_rate"), 25, 1e-4);
    const ClipReport one_in_seven = measure("b.mkv", source("25", ",select='not(eq(mod(n\\,7)\\,3))'") + lossless);
    EXPECT_EQ(number(one_in_seven, "missing_frames"), 28);
    EXPECT_NEAR(number(one_in_seven, "frame_rate"), 25, 1e-4);
}

TEST_F(FrameRateOfClips, DoesNotTakeTheHeadersWord) {
    measure("a.mkv", source("25") + lossless);
    // The packets' times are stretched behind the header's back.
    const ClipReport report = measure("b.mkv", "-i " + file("a.mkv") + " -c copy -bsf:v setts=ts=TS*50/49");
    EXPECT_EQ(report.info.declared_frame_rate, quantity::Rational(25));
    EXPECT_NEAR(number(report, "frame_rate"), 24.5, 1e-3);
}

TEST_F(FrameRateOfClips, SpeaksOfTelevisionWhereItIs) {
    const ClipReport report =
        measure("a.dv",
                "-f lavfi -i \"testsrc2=s=720x480:r=60000/1001:d=1,tinterlace=mode=interleave_bottom\" -pix_fmt "
                "yuv411p -c:v dvvideo");
    EXPECT_EQ(std::get<std::string>(report.figures.find("tv_system")->value()), "525/60");
    EXPECT_NEAR(number(report, "field_rate"), 60000 / 1001.0, 1e-9);
    EXPECT_EQ(std::get<std::string>(report.figures.find("field_order_declared")->value()), "bottom first");
}

}  // namespace
}  // namespace guardband::measure
