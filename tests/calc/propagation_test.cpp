#include "calc/propagation.h"

#include <gmock/gmock.h>

#include <cmath>
#include <random>

namespace guardband::calc {
namespace {

double product(std::span<const double> x) { return x[0] * x[1]; }

TEST(SpreadOf, LeavesExactInputsExact) {
    const Spread spread = spread_of(product, {{3, 0}, {4, 0}});
    EXPECT_DOUBLE_EQ(spread.value, 12);
    EXPECT_EQ(spread.worst, 0);
    EXPECT_EQ(spread.standard_uncertainty, 0);
}

TEST(SpreadOf, AddsWorstCasesUpAndIndependentOnesInQuadrature) {
    const Spread spread = spread_of([](std::span<const double> x) { return x[0] - 2 * x[1]; }, {{10, 0.3}, {1, 0.2}});
    EXPECT_NEAR(spread.worst, 0.3 + 2 * 0.2, 1e-12);
    EXPECT_NEAR(spread.standard_uncertainty, std::hypot(0.3, 0.4) / std::sqrt(3.0), 1e-12);
}

// Independent of the method: inputs drawn evenly from their widths. With 200 000 draws the scatter of a standard
// deviation is 0.2 %; 1 % allows five times that.
TEST(SpreadOf, AgreesWithDrawingAtRandom) {
    const std::vector<Input> inputs{{62, 0.5}, {25, 0.1}};
    std::mt19937_64 random(20260401);
    std::uniform_real_distribution<double> within(-1, 1);
    double sum = 0, squares = 0;
    constexpr int draws = 200000;
    for (int i = 0; i < draws; ++i) {
        const double x[] = {inputs[0].value + inputs[0].half_width * within(random),
                            inputs[1].value + inputs[1].half_width * within(random)};
        const double off = product(x) - 62 * 25;
        sum += off, squares += off * off;
    }
    const double deviation = std::sqrt(squares / draws - (sum / draws) * (sum / draws));
    EXPECT_NEAR(spread_of(product, inputs).standard_uncertainty, deviation, 0.01 * deviation);
}

TEST(InputOf, TakesTheToleranceElseTheRounding) {
    table::Fact fact;
    fact.key = "diameter", fact.printed = "62.0", fact.value = 62, fact.unit = &quantity::unit_named("mm");
    EXPECT_NEAR(input_of(fact, "mm").half_width, 0.05, 1e-12) << "half the last digit";
    fact.low = 61.99, fact.high = 62.01;
    EXPECT_NEAR(input_of(fact, "µm").half_width, 10, 1e-9);
}

}  // namespace
}  // namespace guardband::calc
