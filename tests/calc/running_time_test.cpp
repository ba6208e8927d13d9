#include "calc/running_time.h"

#include <gmock/gmock.h>

#include "quantity/errors.h"
#include "support/built_in_table.h"

namespace guardband::calc {
namespace {

using quantity::DomainError;
using quantity::InputError;
using testing::HasSubstr;
using testing::ThrowsMessage;

using support::built_in;

RunningTimeQuery of(const char* format) {
    RunningTimeQuery query;
    query.format = &built_in().format(format, "test");
    return query;
}

TEST(RunningTimeS, IsLengthOverSpeedWithBothTolerancesAtTheirWorst) {
    const Bounded time = running_time_s({250, 249, 251}, {25, 24.9, 25.1});
    EXPECT_DOUBLE_EQ(time.value, 10000);
    EXPECT_DOUBLE_EQ(time.low, 249 * 1000 / 25.1);
    EXPECT_DOUBLE_EQ(time.high, 251 * 1000 / 24.9);
}

TEST(RunningTimeS, RefusesWhatCannotBe) {
    EXPECT_THROW(running_time_s({-1, -1, -1}, {25, 25, 25}), DomainError);
    EXPECT_THROW(running_time_s({1, 1, 1}, {0, 0, 0}), DomainError);
    EXPECT_DOUBLE_EQ(running_time_s({0, 0, 0}, {25, 25, 25}).value, 0);
}

TEST(RunningTimes, TakeEveryCombinationThatTheFiltersLeave) {
    const auto all = running_times(built_in(), of("vhs"));
    const table::TapeFormat& vhs = built_in().format("vhs", "test");
    EXPECT_EQ(all.size(), vhs.grades.size() * vhs.modes.size());
    for (const RunningTime& row : all) {
        EXPECT_LT(row.seconds.low, row.seconds.value);
        EXPECT_GT(row.seconds.high, row.seconds.value);
    }
}

// Common practice, no source: a 625/50 cassette in a 525/60 machine runs for its length over the faster speed, and the
// other way round.
TEST(RunningTimes, RunACassetteOfOneSystemInAMachineOfTheOther) {
    RunningTimeQuery query = of("vhs");
    query.grade = "E-180";
    query.system = &built_in().scanning("NTSC", "test");
    query.mode = "SP";
    const auto rows = running_times(built_in(), query);
    ASSERT_EQ(rows.size(), 1U);
    EXPECT_TRUE(rows[0].crosses_systems());
    EXPECT_FALSE(rows[0].published_seconds);
    EXPECT_NEAR(rows[0].seconds.value, 258000 / 33.35, 1e-6);
    query.grade = "t-120";
    query.system = &built_in().scanning("PAL", "test");
    EXPECT_NEAR(running_times(built_in(), query).at(0).seconds.value, 247000 / 23.39, 1e-6);
}

TEST(RunningTimes, TakeALengthInsteadOfAGrade) {
    RunningTimeQuery query = of("vhs");
    query.length = quantity::parse_quantity("810ft±10", quantity::unit_named("m"), "--length");
    query.mode = "SP";
    const auto rows = running_times(built_in(), query);
    ASSERT_EQ(rows.size(), 2U);
    EXPECT_EQ(rows[0].grade, nullptr);
    EXPECT_NEAR(rows[0].length_m.low, 800 * 0.3048, 1e-9);
}

TEST(RunningTimes, SayWhatIsNotThere) {
    RunningTimeQuery query = of("vhs");
    query.grade = "E-181";
    EXPECT_THAT([&] { running_times(built_in(), query); },
                ThrowsMessage<InputError>(HasSubstr("did you mean \"E-180\"?")));
    query = of("vhs");
    query.mode = "XLP";
    EXPECT_THAT([&] { running_times(built_in(), query); },
                ThrowsMessage<InputError>(HasSubstr("did you mean \"LP\"?")));
    query = of("vhs");
    query.length = quantity::parse_quantity("-3", quantity::unit_named("m"), "--length");
    EXPECT_THAT([&] { running_times(built_in(), query); }, ThrowsMessage<InputError>(HasSubstr("can't be negative")));
}

}  // namespace
}  // namespace guardband::calc
