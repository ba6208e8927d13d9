#include "measure/clip/stamp_period.h"

#include <gtest/gtest.h>

#include <random>
#include <vector>

namespace guardband::measure {
namespace {

double step_of(const std::vector<double>& steps) { return common_step(steps); }

TEST(CommonStep, IsTheMeanOfRoundedSteps) {
    EXPECT_NEAR(step_of({41, 42, 42, 41, 42, 42}), 250 / 6.0, 1e-12);
    EXPECT_DOUBLE_EQ(step_of({40}), 40);
}

TEST(CommonStep, SeesThroughMissingFrames) {
    EXPECT_DOUBLE_EQ(step_of({40, 80, 40, 40, 120, 40, 80}), 40);
    EXPECT_DOUBLE_EQ(step_of({40, 80, 40, 80, 40, 80}), 40);
    EXPECT_DOUBLE_EQ(step_of({80, 80, 80, 80}), 80);
}

TEST(RefinedPeriod, IsGoodUnderJitterGapsAndWildStamps) {
    std::mt19937_64 random(1);
    std::normal_distribution<> jitter(0, 0.1);
    double worst = 0;
    for (int trial = 0; trial < 200; ++trial) {
        std::vector<double> ticks;
        for (int i = 0; i < 66; ++i)
            if (i != 20 && i != 40) ticks.push_back(100 * (i + jitter(random)));
        ticks[7] += 1e7;
        worst = std::max(worst, std::abs(refined_period(ticks, 104) - 100));
    }
    // Stamps 48 periods apart that jitter by √2 · 0.1 · 100 ticks, the median of 14 of them: 0.1 ticks RMS. Four times
    // that.
    EXPECT_LT(worst, 0.4);
    EXPECT_GT(worst, 0.01);  // it did jitter
}

TEST(CommonStep, IgnoresWildAndBackwardSteps) {
    EXPECT_NEAR(step_of({40, 40, -1e9, 40, 1e9 + 40, 40, 0, 40, 40, 40}), 40, 1e-9);
}

TEST(CommonStep, IsNothingWithoutARisingStep) {
    EXPECT_EQ(step_of({}), 0);
    EXPECT_EQ(step_of({0, -40, 0}), 0);
}

}  // namespace
}  // namespace guardband::measure
