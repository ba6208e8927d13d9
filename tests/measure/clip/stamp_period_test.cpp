#include "measure/clip/stamp_period.h"

#include <gtest/gtest.h>

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

TEST(CommonStep, IgnoresWildAndBackwardSteps) {
    EXPECT_NEAR(step_of({40, 40, -1e9, 40, 1e9 + 40, 40, 0, 40, 40, 40}), 40, 1e-9);
}

TEST(CommonStep, IsNothingWithoutARisingStep) {
    EXPECT_EQ(step_of({}), 0);
    EXPECT_EQ(step_of({0, -40, 0}), 0);
}

}  // namespace
}  // namespace guardband::measure
