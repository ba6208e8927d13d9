// Mean squares of values that are known twice, drawn by a known law: their scatter against the least that the law
// allows, that of independent values averaged with 1 / variance.
#include "measure/clip/mean_square.h"

#include <gtest/gtest.h>

#include <cmath>

#include "testsignal/gaussian_noise.h"

namespace guardband::measure {
namespace {

constexpr std::size_t group_values = 40, groups = 10;
constexpr double value_px = 0.05, sure_px = 0.02, unsure_px = 0.3;

/// Values of which every other one is known badly.
double drawn_square(testsignal::Random& random) {
    TwiceOrOnce squares;
    for (std::size_t i = 0; i < groups * group_values; ++i) {
        const double value = value_px * random.gaussian(), error = i % 2 == 0 ? sure_px : unsure_px;
        squares.twice(i % most_stretches, i / group_values, value + error * random.gaussian(),
                      value + error * random.gaussian(), error * error);
    }
    const double root = squares.root_mean_square().value;
    return root * root;
}

double variance_of_product(double error_px) {
    const double square = value_px * value_px, all = square + error_px * error_px;
    return all * all + square * square;
}

TEST(TwiceOrOnce, ScattersHardlyMoreThanIndependentValuesMust) {
    testsignal::Random random(5);
    constexpr int trials = 300;
    double sum = 0, squares = 0;
    for (int trial = 0; trial < trials; ++trial) {
        const double off = drawn_square(random) - value_px * value_px;
        sum += off, squares += off * off;
    }
    const double half = groups * group_values / 2.0;
    const double least = 1 / (half / variance_of_product(sure_px) + half / variance_of_product(unsure_px));
    const double scatter = std::sqrt(squares / trials);
    EXPECT_NEAR(sum / trials, 0, 3 * scatter / std::sqrt(trials));
    EXPECT_LE(scatter, 1.15 * std::sqrt(least));
}

// Lines at the top that bend are dark, and little is known of them: they are part of the mean all the same.
TEST(TwiceOrOnce, CountsGroupsByTheirValuesHoweverUnsure) {
    testsignal::Random random(6);
    TwiceOrOnce squares;
    for (std::size_t i = 0; i < 8 * group_values; ++i) {
        const bool bent = i < group_values;
        const double value = bent ? 0.8 : 0, error = bent ? unsure_px : sure_px;
        squares.twice(i % most_stretches, i / group_values, value + error * random.gaussian(),
                      value + error * random.gaussian(), error * error);
    }
    EXPECT_NEAR(squares.root_mean_square().value, 0.8 / std::sqrt(8.0), 0.05 * 0.8 / std::sqrt(8.0));
    double of_unsure = 0;
    for (std::size_t i = 0; i < group_values; ++i) of_unsure += squares.weight(0, unsure_px * unsure_px);
    EXPECT_NEAR(of_unsure, group_values, 1e-6 * group_values);
}

// Something dark hides one edge of more than half of the lines, and by what the other errs is known badly.
TEST(TwiceOrOnce, TakesWhatIsKnownOnceForLikeTheOthersEvenIfThoseAreFewer) {
    testsignal::Random random(7);
    TwiceOrOnce squares;
    for (std::size_t i = 0; i < 50 * group_values; ++i) {
        const double value = value_px * random.gaussian();
        if (i % 5 < 2)
            squares.twice(i % most_stretches, 0, value + sure_px * random.gaussian(),
                          value + sure_px * random.gaussian(), sure_px * sure_px);
        else
            squares.once(i % most_stretches, 0, value + unsure_px * random.gaussian(), unsure_px * unsure_px / 5);
    }
    EXPECT_NEAR(squares.root_mean_square().value, value_px, 0.1 * value_px);
}

}  // namespace
}  // namespace guardband::measure
