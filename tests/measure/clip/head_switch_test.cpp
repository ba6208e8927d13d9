// Head switches so late that few lines follow: without the line of all of them, each looks like a mistake.
#include <gtest/gtest.h>

#include <tuple>

#include "measured_lines.h"
#include "support/measured_figures.h"

namespace guardband::measure {
namespace {

/// System, lines after the switch, step, seed.
class LateHeadSwitch : public testing::TestWithParam<std::tuple<const char*, int, double, std::uint64_t>> {};

// Claim: the line within 0.5, the step within 15 ns.
TEST_P(LateHeadSwitch, IsFoundInEveryField) {
    const auto& [system, lines, step_ns, seed] = GetParam();
    testsignal::Recipe recipe = support::recipe_of(system, 10, 1.2, seed);
    recipe.noise.snr_db = 40;
    recipe.picture.luma_bandwidth_mhz = 2.94;
    auto& blanking = recipe.blanking.emplace();
    blanking.left_px = 7.5, blanking.right_px = 7.7, blanking.rise_ns = 200;
    auto& time_base = recipe.time_base.emplace();
    time_base.random_ns = 5, time_base.head_switch_line = lines, time_base.head_switch_steps_ns = {step_ns};
    const MeasuredLines found = measure_lines(recipe);
    EXPECT_NEAR(found.value("head_switch_line"), lines, 0.5);
    EXPECT_NEAR(found.value("head_switch_step"), step_ns, 15);
}

INSTANTIATE_TEST_SUITE_P(Lines, LateHeadSwitch,
                         testing::Values(std::tuple("525/60", 4, 3000, 1), std::tuple("525/60", 3, 3000, 7),
                                         std::tuple("625/50", 4, -1000, 3), std::tuple("625/50", 3, 5000, 5)));

}  // namespace
}  // namespace guardband::measure
