#include "dsp/robust.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "quantity/errors.h"

namespace guardband::dsp {
namespace {

TEST(Quantile, LiesBetweenNeighbours) {
    std::vector<double> values{4, 1, 3, 2, 0};
    EXPECT_EQ(quantile_in_place(std::span(values), 0), 0);
    EXPECT_EQ(quantile_in_place(std::span(values), 1), 4);
    EXPECT_DOUBLE_EQ(quantile_in_place(std::span(values), 0.3), 1.2);
}

// Sorting tells the same, whatever the values: both signs, a few that repeat, one that stands for nearly all.
TEST(Quantile, OfManyIsThatOfTheSorted) {
    std::mt19937 random(5);
    std::normal_distribution<float> normal(0, 100);
    for (const std::size_t count : {999U, 1000U, 1001U, 3703U})
        for (const int kind : {0, 1, 2}) {
            std::vector<float> values(count);
            for (float& v : values) {
                const float any = normal(random);
                v = kind == 0 ? any : kind == 1 ? std::round(any / 50) : std::max(0.0F, any - 250);
            }
            std::vector<float> sorted = values;
            std::ranges::sort(sorted);
            for (const double share : {0.0, 0.04, 0.3, 0.5, 0.7777, 0.99, 1.0}) {
                const double place = share * static_cast<double>(count - 1);
                const auto below = static_cast<std::size_t>(place);
                const double low = sorted[below], high = sorted[std::min(below + 1, count - 1)];
                EXPECT_EQ(quantile_in_place(std::span(values), share),
                          low + (place - static_cast<double>(below)) * (high - low))
                    << count << " values of kind " << kind << ", " << share;
            }
        }
}

TEST(Median, OfOddAndEvenNumbers) {
    EXPECT_EQ(median(std::vector<double>{9, 1, 5}), 5);
    EXPECT_EQ(median(std::vector<double>{9, 1, 5, 6}), 5.5);
    EXPECT_EQ(median(std::vector<float>{2}), 2);
}

TEST(Spread, IsTheDeviationOfNormalNoise) {
    // Standard error of 1.4826 MAD on N normal values is 1.167 σ / sqrt(N); four of them.
    std::mt19937 random(3);
    std::normal_distribution<float> normal(10, 2);
    std::vector<float> values(20000);
    for (auto& v : values) v = normal(random);
    EXPECT_NEAR(spread(values), 2, 4 * 1.167 * 2 / std::sqrt(20000.0));
}

TEST(Spread, IsNotMovedByWildValues) {
    std::mt19937 random(4);
    std::normal_distribution<double> normal(0, 1);
    std::vector<double> values(10000);
    for (std::size_t i = 0; i < values.size(); ++i) values[i] = i % 10 == 0 ? 1e6 : normal(random);
    // A tenth of the values on one side moves the median to the 5/9 quantile of the rest and the MAD by 12 %, whatever
    // their size.
    EXPECT_NEAR(spread(values), 1.0, 0.2);
}

TEST(TrimmedMean, CutsBothEnds) {
    EXPECT_DOUBLE_EQ(trimmed_mean(std::vector<double>{-1000, 1, 2, 3, 9000}, 0.2), 2);
    EXPECT_DOUBLE_EQ(trimmed_mean(std::vector<double>{1, 2, 6}, 0), 3);
}

TEST(HalfSampleMode, IsWhereValuesLieClosest) {
    EXPECT_DOUBLE_EQ(half_sample_mode(std::vector<double>{7}), 7);
    EXPECT_DOUBLE_EQ(half_sample_mode(std::vector<double>{2, 4}), 3);
    EXPECT_DOUBLE_EQ(half_sample_mode(std::vector<double>{0, 10, 20, 50, 51, 51.5, 90}), 51.25);
}

// Claim: most of the values may be wild. A third of them are near 5, the others far and wide.
TEST(HalfSampleMode, IsNotMovedByMostValues) {
    std::mt19937 random(5);
    std::normal_distribution<double> near(5, 0.1);
    std::uniform_real_distribution<double> wide(-500, 500);
    for (int run = 0; run < 50; ++run) {
        std::vector<double> values(90);
        for (std::size_t i = 0; i < values.size(); ++i) values[i] = i % 3 == 0 ? near(random) : wide(random);
        EXPECT_NEAR(half_sample_mode(values), 5, 0.3);
    }
}

TEST(Robust, RefusesEmptyAndAbsurd) {
    EXPECT_THROW(half_sample_mode(std::vector<double>{}), quantity::DomainError);
    EXPECT_THROW(median(std::vector<double>{}), quantity::DomainError);
    EXPECT_THROW(spread(std::vector<float>{}), quantity::DomainError);
    EXPECT_THROW(trimmed_mean(std::vector<double>{1}, 0.5), quantity::DomainError);
    std::vector<double> one{1};
    EXPECT_THROW(quantile_in_place(std::span(one), 1.1), quantity::DomainError);
}

}  // namespace
}  // namespace guardband::dsp
