#include "measure/clip/tv_system.h"

#include <gmock/gmock.h>

#include "measure/clip/field_rate.h"
#include "support/built_in_table.h"
#include "support/made_context.h"

namespace guardband::measure {
namespace {

using quantity::Figure;
using Scan = InterlaceEvidence::Scan;

struct Found {
    Figure system, field_rate;
    std::string system_text() const { return system.is_known() ? std::get<std::string>(system.value()) : ""; }
};

using support::built_in;

Found judged(int width, int height, std::optional<double> rate_hz, Scan scan = Scan::Unknown) {
    support::MadeContext made;
    made.info.picture.width = width;
    made.info.picture.height = height;
    made.evidence.scan_value = scan;
    if (rate_hz) made.evidence.rate_value = MeasuredRate{*rate_hz, 1e-4};
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    TvSystem(made.context).finish(figures, events);
    FieldRate(made.context).finish(figures, events);
    return {*figures.find("tv_system"), *figures.find("field_rate")};
}

// Source: ITU-R BT.601, 13.5 MHz family: 525/60 and 625/50 rasters; 486 lines is SMPTE practice, 480 and 576 those of
// the compressed formats.
TEST(TvSystem, FollowsFromRasterAndRate) {
    EXPECT_EQ(judged(720, 576, 25).system_text(), "625/50");
    EXPECT_EQ(judged(704, 576, 25.0003).system_text(), "625/50");  // narrower crops of the same raster
    EXPECT_EQ(judged(720, 480, 30000 / 1001.0).system_text(), "525/60");
    EXPECT_EQ(judged(720, 486, 30000 / 1001.0).system_text(), "525/60");
    EXPECT_EQ(judged(720, 480, 30).system_text(), "525/60");
    // With vertical blanking above the picture.
    EXPECT_EQ(judged(720, 608, 25).system_text(), "625/50");
    EXPECT_EQ(judged(720, 512, 30000 / 1001.0).system_text(), "525/60");
    EXPECT_EQ(judged(720, 512, 25).system_text(), "");
}

TEST(TvSystem, KnowsFieldsThatWereMadeFrames) {
    const Found of_50 = judged(720, 576, 50, Scan::Progressive),
                of_60 = judged(720, 480, 60000 / 1001.0, Scan::Progressive);
    EXPECT_EQ(of_50.system_text(), "625/50");
    EXPECT_DOUBLE_EQ(*of_50.field_rate.number(), 50);
    EXPECT_THAT(of_50.field_rate.note(), testing::HasSubstr("each frame carries one field"));
    EXPECT_EQ(of_60.system_text(), "525/60");
    EXPECT_DOUBLE_EQ(*of_60.field_rate.number(), 60000 / 1001.0);
}

TEST(TvSystem, SaysWhyThereIsNone) {
    EXPECT_THAT(judged(1920, 1080, 25).system.reason(), testing::HasSubstr("1920×1080 is no raster"));
    EXPECT_THAT(judged(720, 576, 24).system.reason(), testing::HasSubstr("fits no scanning standard"));
    EXPECT_THAT(judged(720, 576, 30000 / 1001.0).system.reason(), testing::HasSubstr("fits no scanning standard"));
    EXPECT_THAT(judged(720, 480, 25).system.reason(), testing::HasSubstr("fits no scanning standard"));
    EXPECT_THAT(judged(720, 576, std::nullopt).system.reason(), testing::HasSubstr("frame rate is not known"));
}

TEST(FieldRate, IsTwiceTheFrameRateOfFields) {
    for (const Scan scan : {Scan::Interlaced, Scan::Mixed, Scan::Progressive, Scan::Unknown}) {
        const Figure rate = judged(720, 576, 25.0002, scan).field_rate;
        EXPECT_DOUBLE_EQ(*rate.number(), 50.0004);
        EXPECT_DOUBLE_EQ(*rate.uncertainty(), 2e-4);
        EXPECT_EQ(rate.unit(), "Hz");
    }
    EXPECT_DOUBLE_EQ(*judged(1920, 1080, 25, Scan::Interlaced).field_rate.number(), 50);
}

TEST(FieldRate, SaysWhyThereIsNone) {
    EXPECT_THAT(judged(1920, 1080, 25, Scan::Progressive).field_rate.reason(), testing::HasSubstr("progressive"));
    EXPECT_THAT(judged(1920, 1080, 25, Scan::Unknown).field_rate.reason(), testing::HasSubstr("scan is not known"));
    EXPECT_THAT(judged(720, 576, std::nullopt, Scan::Interlaced).field_rate.reason(),
                testing::HasSubstr("frame rate is not known"));
}

}  // namespace
}  // namespace guardband::measure
