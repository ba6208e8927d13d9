#include "quantity/measured.h"

#include <gmock/gmock.h>

#include "quantity/errors.h"

namespace guardband::quantity {
namespace {

using testing::HasSubstr;
using testing::ThrowsMessage;

Quantity mm(const char* text) { return parse_measured(text, unit_named("mm"), "--outer"); }
Quantity time(const char* text) { return parse_measured_time(text, "--at"); }

TEST(Measured, DigitsTellHowWellItWasRead) {
    EXPECT_DOUBLE_EQ(mm("83").uncertainty.value(), 0.5);
    EXPECT_DOUBLE_EQ(mm("83.0").uncertainty.value(), 0.05);
    EXPECT_DOUBLE_EQ(mm("83.0±0.2").uncertainty.value(), 0.2);
    EXPECT_DOUBLE_EQ(mm("82-84mm").uncertainty.value(), 1);
    EXPECT_DOUBLE_EQ(mm("-4").uncertainty.value(), 0.5);
    EXPECT_DOUBLE_EQ(mm("3.27 in").uncertainty.value(), 0.005) << "in the unit that was written";
    EXPECT_EQ(mm("3.27 in").unit->name, "in");
    EXPECT_THROW(mm("83 s"), InputError);
}

TEST(MeasuredTime, ReadsClocksAndUnits) {
    EXPECT_DOUBLE_EQ(time("1:02:30").value, 3750);
    EXPECT_DOUBLE_EQ(time("62:30").value, 3750);
    EXPECT_DOUBLE_EQ(time("62.5min").value, 3750);
    EXPECT_DOUBLE_EQ(time("3750").value, 3750);
    EXPECT_DOUBLE_EQ(time("1:02:30.25").value, 3750.25);
    EXPECT_DOUBLE_EQ(time("0:00").value, 0);
    EXPECT_DOUBLE_EQ(time("100:00:00").value, 360000);
}

TEST(MeasuredTime, KnowsHowFineItIs) {
    EXPECT_DOUBLE_EQ(time("1:02:30").uncertainty.value(), 0.5);
    EXPECT_DOUBLE_EQ(time("1:02:30.25").uncertainty.value(), 0.005);
    EXPECT_DOUBLE_EQ(time("62min").uncertainty.value(), 30);
    EXPECT_DOUBLE_EQ(time("1:02:30±2s").uncertainty.value(), 2);
    EXPECT_DOUBLE_EQ(time("1:02:30 +- 0.1 min").uncertainty.value(), 6);
    EXPECT_DOUBLE_EQ(time("62min±0.5").uncertainty.value(), 30);
    EXPECT_EQ(time("62min").unit->name, "s");
}

TEST(MeasuredTime, RefusesWhatIsNone) {
    for (const char* text : {"1:60", "1:2:3:4", "a:30", "1::30", ":30", "1:30:", "-1:30", "1:-3", "1.5:30", "1:30 h"})
        EXPECT_THAT([&] { time(text); }, ThrowsMessage<InputError>(HasSubstr("write it like 1:02:30"))) << text;
    EXPECT_THAT([] { time("-5s"); }, ThrowsMessage<InputError>(HasSubstr("negative time")));
    EXPECT_THAT([] { time("5 mm"); }, ThrowsMessage<InputError>(HasSubstr("unit of another kind")));
    EXPECT_THROW(time(""), InputError);
    EXPECT_THROW(time("1:00±"), InputError);
}

}  // namespace
}  // namespace guardband::quantity
