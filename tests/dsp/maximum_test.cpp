#include "dsp/maximum.h"

#include <gtest/gtest.h>

#include <cmath>

#include "quantity/errors.h"

namespace guardband::dsp {
namespace {

TEST(MaximumPlace, FindsASinglePeak) {
    const auto peak = [](double x) { return std::exp(-std::abs(x - 0.3)); };
    EXPECT_NEAR(maximum_place(peak, -2, 5, 1e-9), 0.3, 1e-9);
}

TEST(MaximumPlace, EndsAtABoundWhenTheFunctionRises) {
    EXPECT_NEAR(maximum_place([](double x) { return x; }, 0, 1, 1e-9), 1, 2e-9);
}

TEST(MaximumPlace, EndsWhenDoublesCanGoNoFurther) {
    EXPECT_NEAR(maximum_place([](double x) { return -x * x; }, -1, 2, 1e-300), 0, 1e-7);
}

TEST(MaximumPlace, RefusesNoBracket) {
    EXPECT_THROW(maximum_place([](double x) { return x; }, 1, 1, 0.1), quantity::DomainError);
    EXPECT_THROW(maximum_place([](double x) { return x; }, 0, 1, 0), quantity::DomainError);
}

TEST(ParabolaOffset, IsExactOnParabolas) {
    const auto parabola = [](double x) { return 5 - 3 * (x - 0.2) * (x - 0.2); };
    EXPECT_NEAR(parabola_offset(parabola(-1), parabola(0), parabola(1)), 0.2, 1e-12);
    EXPECT_EQ(parabola_offset(1, 2, 3), 0);
}

}  // namespace
}  // namespace guardband::dsp
