#include "testsignal/gaussian_noise.h"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

namespace guardband::testsignal {
namespace {

std::vector<float> many(std::uint64_t seed, std::size_t count = 2'000'000) {
    std::vector<float> values(count);
    Random(seed).fill_gaussian(values);
    return values;
}

double moment(const std::vector<float>& values, int order) {
    double sum = 0;
    for (const float v : values) sum += std::pow(static_cast<double>(v), order);
    return sum / static_cast<double>(values.size());
}

TEST(GaussianNoise, HasTheMomentsOfTheNormalDistribution) {
    const auto values = many(1);
    const double n = static_cast<double>(values.size());
    // Standard errors of the moments of n normal values: 1, sqrt 2, sqrt 15, sqrt 96 over sqrt n; bounds at 4 of them.
    EXPECT_NEAR(moment(values, 1), 0, 4 * std::sqrt(1 / n));
    EXPECT_NEAR(moment(values, 2), 1, 4 * std::sqrt(2 / n));
    EXPECT_NEAR(moment(values, 3), 0, 4 * std::sqrt(15 / n));
    EXPECT_NEAR(moment(values, 4), 3, 4 * std::sqrt(96 / n));
}

TEST(GaussianNoise, HasItsTails) {
    const auto values = many(2);
    const double n = static_cast<double>(values.size());
    for (const double limit : {0.5, 1.0, 2.0, 3.0, 3.6, 3.7, 4.2}) {  // 3.654 is where the ziggurat's own tail begins
        double beyond = 0;
        for (const float v : values) beyond += std::abs(v) > limit;
        const double expected = n * std::erfc(limit / std::sqrt(2.0));
        EXPECT_NEAR(beyond, expected, 4 * std::sqrt(expected)) << "beyond " << limit;
    }
}

TEST(GaussianNoise, IsWhite) {
    const auto values = many(3);
    const double n = static_cast<double>(values.size());
    for (const std::size_t lag : {1U, 2U, 3U, 720U}) {
        double sum = 0;
        for (std::size_t i = lag; i < values.size(); ++i)
            sum += static_cast<double>(values[i]) * static_cast<double>(values[i - lag]);
        EXPECT_NEAR(sum / n, 0, 4 / std::sqrt(n)) << "lag " << lag;
    }
}

TEST(GaussianNoise, NeighbouringSeedsAreUnrelated) {
    const auto a = many(mixed_seed(7, 1, 100)), b = many(mixed_seed(7, 1, 101));
    double sum = 0;
    for (std::size_t i = 0; i < a.size(); ++i) sum += static_cast<double>(a[i]) * static_cast<double>(b[i]);
    EXPECT_NEAR(sum / static_cast<double>(a.size()), 0, 4 / std::sqrt(static_cast<double>(a.size())));
}

TEST(GaussianNoise, TheSameSeedGivesTheSame) { EXPECT_EQ(many(9, 1000), many(9, 1000)); }

}  // namespace
}  // namespace guardband::testsignal
