#include "dsp/cholesky.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>

#include "quantity/errors.h"

namespace guardband::dsp {
namespace {

TEST(Cholesky, SolvesTwoByHand) {  // [4 2; 2 3] x = [8 7] has x = [1.25 1.5]; the inverse is [3 -2; -2 4] / 8
    const auto factor = Cholesky::of({4, 99, 2, 3}, 2);
    ASSERT_TRUE(factor);
    const auto x = factor->solve({8, 7});
    EXPECT_DOUBLE_EQ(x[0], 1.25);
    EXPECT_DOUBLE_EQ(x[1], 1.5);
    EXPECT_DOUBLE_EQ(factor->inverse_at(0), 3.0 / 8);
    EXPECT_DOUBLE_EQ(factor->inverse_at(1), 0.5);
}

TEST(Cholesky, SolvesCovariances) {
    constexpr std::size_t size = 30;
    std::mt19937 random(8);
    std::normal_distribution<double> normal;
    std::vector<double> matrix(size * size), x(size), known(size);
    for (std::size_t sample = 0; sample < 3 * size; ++sample) {
        std::vector<double> one(size);
        for (double& v : one) v = normal(random);
        for (std::size_t i = 0; i < size; ++i)
            for (std::size_t j = 0; j < size; ++j) matrix[i * size + j] += one[i] * one[j];
    }
    for (double& v : x) v = normal(random);
    for (std::size_t i = 0; i < size; ++i)
        for (std::size_t j = 0; j < size; ++j) known[i] += matrix[i * size + j] * x[j];
    const auto factor = Cholesky::of(matrix, size);
    ASSERT_TRUE(factor);
    const auto found = factor->solve(known);
    for (std::size_t i = 0; i < size; ++i) EXPECT_NEAR(found[i], x[i], 1e-10);
}

TEST(Cholesky, TellsWhatCannotBeSolved) {
    const double none = std::numeric_limits<double>::quiet_NaN();
    EXPECT_FALSE(Cholesky::of({1, 0, 1, 1}, 2));
    EXPECT_FALSE(Cholesky::of({1, 0, 2, 1}, 2));
    EXPECT_FALSE(Cholesky::of({none, 0, 0, 1}, 2));
    EXPECT_THROW(Cholesky::of({1, 2, 3}, 2), quantity::DomainError);
    EXPECT_THROW(Cholesky::of({1, 0, 0, 1}, 2)->solve({1}), quantity::DomainError);
}

}  // namespace
}  // namespace guardband::dsp
