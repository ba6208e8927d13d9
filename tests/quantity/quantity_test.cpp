#include "quantity/quantity.h"

#include <gmock/gmock.h>

#include "quantity/errors.h"

namespace guardband::quantity {
namespace {

using testing::DoubleNear;
using testing::HasSubstr;
using testing::Optional;
using testing::ThrowsMessage;

Quantity parsed(std::string_view text, std::string_view unit) {
    return parse_quantity(text, unit_named(unit), "--option");
}

TEST(ParseQuantity, TakesTheUnitOfTheOptionWhenNoneIsWritten) {
    const Quantity rate = parsed("25.0", "Hz");
    EXPECT_DOUBLE_EQ(rate.in("Hz"), 25);
    EXPECT_FALSE(rate.uncertainty);
}

TEST(ParseQuantity, TakesTheContractsForms) {
    EXPECT_THAT(parsed("25.0±0.1", "Hz").uncertainty, Optional(DoubleNear(0.1, 1e-15)));
    EXPECT_THAT(parsed("25.0+-0.1", "Hz").uncertainty, Optional(DoubleNear(0.1, 1e-15)));
    EXPECT_DOUBLE_EQ(parsed("33.35mm/s", "m/s").in("mm/s"), 33.35);
    EXPECT_NEAR(parsed("1.313ips", "mm/s").in("mm/s"), 33.3502, 1e-9);
    EXPECT_DOUBLE_EQ(parsed("810ft", "m").in("m"), 246.888);
    EXPECT_DOUBLE_EQ(parsed(" 810 ft ", "m").in("m"), 246.888);
    EXPECT_DOUBLE_EQ(parsed("-5", "mV").in("mV"), -5);
    EXPECT_THAT(parsed("810±10ft", "m").uncertainty_in(unit_named("m")), Optional(DoubleNear(3.048, 1e-12)));
    EXPECT_THAT(parsed("810ft±10", "m").uncertainty_in(unit_named("m")), Optional(DoubleNear(3.048, 1e-12)));
    EXPECT_THAT(parsed("33.35mm/s ± 0.5 %", "mm/s").uncertainty, Optional(DoubleNear(0.16675, 1e-12)));
    EXPECT_DOUBLE_EQ(parsed("1e3", "Hz").in("kHz"), 1);
}

TEST(ParseQuantity, TakesARangeAsItsMiddle) {
    const Quantity length = parsed("246-248", "m");
    EXPECT_DOUBLE_EQ(length.value, 247);
    EXPECT_THAT(length.uncertainty, Optional(DoubleNear(1, 1e-12)));
    EXPECT_DOUBLE_EQ(parsed("246–248 ft", "m").value, 247);
}

TEST(ParseQuantity, SaysWhatIsWrongAndWhatToWrite) {
    EXPECT_THAT([] { parsed("fast", "mm/s"); }, ThrowsMessage<InputError>(HasSubstr("\"fast\" is not a number")));
    EXPECT_THAT([] { parsed("", "mm/s"); }, ThrowsMessage<InputError>(HasSubstr("not a number")));
    EXPECT_THAT([] { parsed("nan", "mm/s"); }, ThrowsMessage<InputError>(HasSubstr("not a number")));
    EXPECT_THAT([] { parsed("1e999", "mm/s"); }, ThrowsMessage<InputError>(HasSubstr("not a number")));
    EXPECT_THAT([] { parsed("3 parsecs", "mm/s"); },
                ThrowsMessage<InputError>(HasSubstr("use one of m/s, mm/s, cm/s, in/s")));
    EXPECT_THAT([] { parsed("3 Hz", "mm/s"); }, ThrowsMessage<InputError>(HasSubstr("unit of another kind")));
    EXPECT_THAT([] { parsed("3±", "mm/s"); }, ThrowsMessage<InputError>(HasSubstr("no usable uncertainty")));
    EXPECT_THAT([] { parsed("3±-1", "mm/s"); }, ThrowsMessage<InputError>(HasSubstr("no usable uncertainty")));
}

TEST(Convert, IsExactWhereTheDefinitionsAre) {
    // 1 ft = 0.3048 m and 1 in = 25.4 mm: the international yard and pound agreement of 1959, from memory.
    EXPECT_DOUBLE_EQ(converted(1, unit_named("ft"), unit_named("m")), 0.3048);
    EXPECT_DOUBLE_EQ(converted(7.5, unit_named("in/s"), unit_named("mm/s")), 190.5);
    EXPECT_THROW(converted(1, unit_named("ft"), unit_named("s")), DomainError);
}

TEST(Convert, ComesBackToWhereItStarted) {
    for (const char* from : {"ft", "in", "mil", "µm", "cm"})
        for (double value = 0.001; value < 1e6; value *= 7.3) {
            const double there = converted(value, unit_named(from), unit_named("mm"));
            EXPECT_NEAR(converted(there, unit_named("mm"), unit_named(from)) / value, 1, 1e-15) << value << " " << from;
        }
}

TEST(HalfLastDigit, IsTheRoundingThatAPrintedFigureAllows) {
    EXPECT_DOUBLE_EQ(half_last_digit("49"), 0.5);
    EXPECT_DOUBLE_EQ(half_last_digit("33.35"), 0.005);
    EXPECT_DOUBLE_EQ(half_last_digit("1.5e3"), 50);
}

TEST(HoursMinutesSeconds, RoundToTheNearestSecond) {
    EXPECT_EQ(h_mm_ss(11700), "3:15:00");
    EXPECT_EQ(h_mm_ss(59.6), "0:01:00");
    EXPECT_EQ(h_mm_ss(0), "0:00:00");
    EXPECT_EQ(h_mm_ss(-1.2), "-0:00:01");
    EXPECT_EQ(h_mm_ss(-0.2), "0:00:00");
    EXPECT_EQ(h_mm_ss(360000), "100:00:00");
}

}  // namespace
}  // namespace guardband::quantity
