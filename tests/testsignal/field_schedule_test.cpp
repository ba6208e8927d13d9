#include "testsignal/field_schedule.h"

#include <gmock/gmock.h>

#include <cmath>

namespace guardband::testsignal {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

Recipe frames(int count) {
    Recipe r;
    r.duration_s = count / 25.0;
    return r;
}

TEST(FieldSchedule, FieldsFollowEachOtherInTime) {
    const FieldSchedule schedule(frames(10));
    EXPECT_EQ(schedule.frame_count(), 10);
    for (int k = 0; k < 20; ++k) {
        EXPECT_DOUBLE_EQ(schedule.field(k).time_s, k / 50.0);
        EXPECT_EQ(schedule.field(k).noise_field, k);
    }
    EXPECT_THAT(schedule.repeated_fields(), IsEmpty());
    EXPECT_THAT(schedule.missing_frames(), IsEmpty());
}

TEST(FieldSchedule, BothFieldsOfAProgressiveFrameAreOfOneMoment) {
    Recipe r = frames(10);
    r.scan = Scan::Progressive;
    const FieldSchedule schedule(r);
    for (int k = 0; k < 20; ++k) EXPECT_DOUBLE_EQ(schedule.field(k).time_s, (k - k % 2) / 50.0);
    EXPECT_THAT(schedule.repeated_fields(), IsEmpty());
}

TEST(FieldSchedule, AConversionShowsTheSourcesFieldsInTheirTime) {
    Recipe r = frames(10);
    r.conversion.emplace();
    r.conversion->from_field_rate = quantity::Rational(60, 1);
    const FieldSchedule mixed(r);
    // Field k of the clip lies 1.2 k fields into the source.
    for (int k = 0; k < 20; ++k) {
        const FieldSource source = mixed.field(k);
        const double whole = std::floor(1.2 * k + 1e-6);
        EXPECT_NEAR(source.time_s, whole / 60, 1e-9);
        EXPECT_NEAR(source.later_time_s, (whole + 1) / 60, 1e-9);
        EXPECT_NEAR(source.later_share, 1.2 * k - whole, 1e-6);
    }
    r.conversion->method = ConversionMethod::Repeat;
    const FieldSchedule dropped(r);
    for (int k = 0; k < 20; ++k) {
        EXPECT_NEAR(dropped.field(k).time_s, std::floor(1.2 * k + 1e-6) / 60, 1e-9);
        EXPECT_EQ(dropped.field(k).later_share, 0);
    }
    // 50 to 60: five frames of the source on six.
    r.raster.frame_rate = quantity::Rational(30, 1), r.conversion->from_field_rate = quantity::Rational(50, 1);
    r.conversion->whole_frames = true;
    const FieldSchedule repeated(r);
    EXPECT_THAT(repeated.repeated_frames(), ElementsAre(1, 7));
}

TEST(FieldSchedule, ARepeatShowsTheFieldOfTheSameParityBeforeIt) {
    Recipe r = frames(10);
    r.faults.repeated_fields = {5, 7, 12};  // 7 repeats 5, which repeats 3
    const FieldSchedule copies(r);
    EXPECT_DOUBLE_EQ(copies.field(5).time_s, 3 / 50.0);
    EXPECT_EQ(copies.field(7).noise_field, 3);
    EXPECT_THAT(copies.repeated_fields(), ElementsAre(5, 7, 12));
    r.faults.repeat_stage = RepeatStage::BeforeNoise;
    const FieldSchedule played(r);
    EXPECT_DOUBLE_EQ(played.field(7).time_s, 3 / 50.0);
    EXPECT_EQ(played.field(7).noise_field, 7);
}

TEST(FieldSchedule, ARepeatedFrameRepeatsBothFields) {
    Recipe r = frames(10);
    r.faults.repeated_frames = {4};
    const FieldSchedule schedule(r);
    EXPECT_THAT(schedule.repeated_fields(), ElementsAre(8, 9));
    EXPECT_THAT(schedule.repeated_frames(), ElementsAre(4));
}

TEST(FieldSchedule, MissingFramesShiftTheNumbersOfWhatFollows) {
    Recipe r = frames(10);
    r.faults.missing_frames = {6, 2, 3};
    r.faults.repeated_fields = {17};
    const FieldSchedule schedule(r);
    EXPECT_EQ(schedule.frame_count(), 7);
    EXPECT_EQ(schedule.source_frame(2), 4);
    EXPECT_THAT(schedule.repeated_fields(), ElementsAre(17 - 6));
    const auto missing = schedule.missing_frames();
    ASSERT_EQ(missing.size(), 3U);
    EXPECT_EQ(missing[0].before_frame, 2);
    EXPECT_EQ(missing[1].before_frame, 2);
    EXPECT_EQ(missing[2].source_frame, 6);
    EXPECT_EQ(missing[2].before_frame, 4);
}

// 2:3 pull-down puts four film frames into five video frames: two fields of ten are repeats. Common practice, no
// source.
TEST(FieldSchedule, PullDownRepeatsTwoFieldsInTen) {
    Recipe r = frames(20);
    r.pulldown = {2, 3};
    const FieldSchedule schedule(r);
    EXPECT_THAT(schedule.repeated_fields(), ElementsAre(4, 9, 14, 19, 24, 29, 34, 39));
    EXPECT_DOUBLE_EQ(schedule.field(2).time_s, 2.5 / 50);  // the second film frame, 2.5 fields on
    EXPECT_DOUBLE_EQ(schedule.field(4).time_s, 2.5 / 50);
    EXPECT_DOUBLE_EQ(schedule.field(5).time_s, 5 / 50.0);
}

}  // namespace
}  // namespace guardband::testsignal
