#include "measure/event_log.h"

#include <gtest/gtest.h>

namespace guardband::measure {
namespace {

TEST(EventLog, JoinsWhatFollowsClosely) {
    EventLog log(10);
    log.note(5, 0.2, 1, -3);
    log.note(15, 0.6, 2, 7);
    log.note(26, 1.04, 1, 1);
    ASSERT_EQ(log.all().size(), 2U);
    EXPECT_EQ(log.all()[0].frame, 5);
    EXPECT_EQ(log.all()[0].last_frame, 15);
    EXPECT_EQ(log.all()[0].count, 3);
    EXPECT_EQ(log.all()[0].largest, 7);
    EXPECT_DOUBLE_EQ(log.all()[0].end_s, 0.6);
    EXPECT_EQ(log.total(), 4);
}

TEST(EventLog, KeepsApartIfAsked) {
    EventLog log(0);
    log.note(5, 0.2);
    log.note(5, 0.2);
    log.note(6, 0.24);
    EXPECT_EQ(log.all().size(), 3U);
}

TEST(EventLog, NeverGrowsBeyondItsCapacity) {
    EventLog log(0, 4);
    for (int frame = 0; frame < 1000; ++frame) log.note(frame, frame / 25.0);
    EXPECT_EQ(log.all().size(), 4U);
    EXPECT_EQ(log.all().back().count, 997);
    EXPECT_EQ(log.all().back().last_frame, 999);
    EXPECT_EQ(log.total(), 1000);
}

TEST(EventLog, KeepsTheValueOfGreatestMagnitudeWithItsSign) {
    EventLog log(10);
    log.note(1, 0, 1, 2);
    log.note(2, 0, 1, -5);
    log.note(3, 0, 1, 4);
    EXPECT_EQ(log.all().front().largest, -5);
}

}  // namespace
}  // namespace guardband::measure
