#include "quantity/rational.h"

#include <gmock/gmock.h>

#include <cstdint>
#include <limits>

#include "quantity/errors.h"

namespace guardband::quantity {
namespace {

using testing::HasSubstr;
using testing::Property;
using testing::ThrowsMessage;

class NoNames : public Names {
    Rational value(std::string_view name) const override { throw InputError(std::string(name), "not known"); }
};

class LineRate : public Names {
    Rational value(std::string_view) const override { return {4500000, 286}; }
};

Rational value_of(std::string_view text) { return evaluate(text, NoNames{}); }

TEST(Rational, IsKeptInLowestTermsWithPositiveDenominator) {
    EXPECT_EQ(to_string(Rational(4500000, 286)), "2250000/143");
    EXPECT_EQ(to_string(Rational(3, -6)), "-1/2");
    EXPECT_EQ(to_string(Rational(50, 2)), "25");
}

TEST(Rational, AddsAndDividesExactly) {
    EXPECT_EQ(Rational(1135, 4) + Rational(1, 625), Rational(709379, 2500));
    EXPECT_EQ(Rational(60000, 1001) / Rational(2), Rational(30000, 1001));
    EXPECT_EQ(Rational(1, 3) - Rational(1, 3), Rational(0));
}

TEST(Rational, RefusesWhatDoesNotFitInsteadOfWrapping) {
    const Rational huge(std::numeric_limits<std::int64_t>::max());
    EXPECT_THROW(huge * huge, DomainError);
    EXPECT_THROW(huge + Rational(1), DomainError);
    EXPECT_THROW(Rational(1) / Rational(0), DomainError);
    EXPECT_THROW(Rational(1, 0), DomainError);
    EXPECT_THROW(Rational(std::numeric_limits<std::int64_t>::min()), DomainError);
    EXPECT_EQ(huge / huge, Rational(1)) << "what fits after cancelling is fine";
}

TEST(Evaluate, FollowsTheRulesOfArithmetic) {
    EXPECT_EQ(value_of("1 + 2 * 3"), Rational(7));
    EXPECT_EQ(value_of("(1 + 2) * 3"), Rational(9));
    EXPECT_EQ(value_of("8 / 4 / 2"), Rational(1));
    EXPECT_EQ(value_of("10 - 4 - 3"), Rational(3));
    EXPECT_EQ(value_of("-3 * -2"), Rational(6));
    EXPECT_EQ(value_of("14.75"), Rational(59, 4));
}

TEST(Evaluate, KnowsTheNamesItIsGiven) {
    EXPECT_EQ(evaluate("455/2 * line_rate", LineRate{}), Rational(39375000, 11));
    EXPECT_THAT([] { value_of("lines * 2"); }, ThrowsMessage<InputError>(HasSubstr("lines")));
}

TEST(Evaluate, SaysWhatItCannotRead) {
    for (const char* text : {"", "1 +", "(1", "1 2", "1 // 2", "#", "1/0", "99999999999999999999"})
        EXPECT_THROW(value_of(text), InputError) << text;
    const std::string deep(1000, '(');
    EXPECT_THAT([&] { value_of(deep); }, ThrowsMessage<InputError>(HasSubstr("nested too deeply")));
}

}  // namespace
}  // namespace guardband::quantity
