// Bias and scatter of the shift of a profile, against shifts that are known because the profile is a formula.
#include "measure/clip/profile_shift.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

namespace guardband::measure {
namespace {

/// A sum of waves, as of a picture that no camera sees finer than 5 samples, amplitudes falling with frequency.
class Waves {
public:
    explicit Waves(unsigned seed) : random_(seed) {
        std::uniform_real_distribution<double> phase(0, 2 * std::numbers::pi), cycles(1.0 / 300, 1.0 / 5);
        for (int i = 0; i < 60; ++i) waves_.push_back({cycles(random_), phase(random_)});
    }
    std::vector<float> profile(double shift, double noise, double gain = 1, double offset = 0) {
        std::normal_distribution<double> error(0, 1);
        std::vector<float> result;
        for (int x = 0; x < 240; ++x) {
            double value = 300;
            for (const auto& [cycles, phase] : waves_)
                value += 0.4 / cycles * std::sin(2 * std::numbers::pi * cycles * (x - shift) + phase);
            result.push_back(static_cast<float>(gain * value + offset + noise * error(random_)));
        }
        return result;
    }

private:
    struct Wave {
        double cycles, phase;
    };
    std::mt19937 random_;
    std::vector<Wave> waves_;
};

std::optional<ProfileShift> shift_between(const std::vector<float>& before, const std::vector<float>& now) {
    std::vector<float> a, b;
    ProfileMatcher::prepare(before, a);
    ProfileMatcher::prepare(now, b);
    return ProfileMatcher(72).shift(a, b);
}

TEST(ProfileShift, BiasAndScatterAreAsStated) {
    for (const double noise : {0.0, 1.0, 4.0})
        for (const double truth : {0.0, 0.13, 0.5, 1.0, -2.37, 7.5, 19.9, -40.25, 55.0}) {
            double mean = 0, squares = 0, stated = 0;
            constexpr int trials = 60;
            for (unsigned trial = 0; trial < trials; ++trial) {
                Waves waves(trial + 1);
                const auto found = shift_between(waves.profile(0, noise), waves.profile(truth, noise));
                ASSERT_TRUE(found) << truth << ", noise " << noise << ", trial " << trial;
                const double error = found->samples - truth;
                mean += error / trials, squares += error * error / trials,
                    stated += found->error * found->error / trials;
            }
            const double scatter = std::sqrt(squares);
            EXPECT_LT(std::abs(mean), 0.02 + 3 * scatter / std::sqrt(trials)) << truth << ", noise " << noise;
            EXPECT_LT(scatter, 0.02 + 2 * std::sqrt(stated)) << truth << ", noise " << noise;
            EXPECT_GT(scatter + 0.02, 0.5 * std::sqrt(stated)) << truth << ", noise " << noise;
        }
}

// Nor how bright the light is that the picture is seen by.
TEST(ProfileShift, BrightnessDoesNotMatter) {
    for (const double gain : {0.3, 0.8, 1.0, 3.0}) {
        Waves waves(3);
        const auto found = shift_between(waves.profile(0, 0), waves.profile(3.25, 0, gain, 50));
        ASSERT_TRUE(found) << gain;
        EXPECT_NEAR(found->samples, 3.25, 0.02) << gain;
        EXPECT_LT(found->error, 0.02) << gain;
    }
}

TEST(ProfileShift, NothingWhereThereIsNothingToMatch) {
    int found = 0;
    for (unsigned seed = 1; seed <= 50; ++seed)
        found += shift_between(Waves(seed).profile(0, 1), Waves(seed + 100).profile(0, 1)) ? 1 : 0;
    EXPECT_LE(found, 2) << "of 50 cuts";
    EXPECT_FALSE(shift_between(std::vector<float>(240, 100), std::vector<float>(240, 100)));
    EXPECT_FALSE(shift_between({}, {}));
    EXPECT_FALSE(shift_between(std::vector<float>(13, 1), std::vector<float>(13, 2)));
    EXPECT_FALSE(shift_between(Waves(1).profile(0, 0), std::vector<float>(240, 100)));
}

TEST(ProfileShift, NothingWhereThePatternRepeats) {
    std::vector<float> before, now;
    for (int x = 0; x < 240; ++x) {
        before.push_back(static_cast<float>(100 + 50 * std::sin(2 * std::numbers::pi * x / 24)));
        now.push_back(static_cast<float>(100 + 50 * std::sin(2 * std::numbers::pi * (x - 5) / 24)));
    }
    EXPECT_FALSE(shift_between(before, now));
}

}  // namespace
}  // namespace guardband::measure
