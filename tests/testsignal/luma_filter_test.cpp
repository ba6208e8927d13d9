#include "testsignal/luma_filter.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace guardband::testsignal {
namespace {

/// Amplitude of a sine of `frequency` cycles per sample behind the filter, from the middle of a long row.
double response(double cutoff, double frequency) {
    LowPass filter(cutoff);
    std::vector<float> row(4000);
    const auto turn = [&](std::size_t x) { return 2 * std::numbers::pi * frequency * static_cast<double>(x); };
    for (std::size_t x = 0; x < row.size(); ++x) row[x] = static_cast<float>(std::cos(turn(x)));
    filter.apply(row);
    double in_phase = 0, energy = 0;
    for (std::size_t x = 1000; x < 3000; ++x) {
        in_phase += static_cast<double>(row[x]) * std::cos(turn(x));
        energy += std::cos(turn(x)) * std::cos(turn(x));
    }
    return in_phase / energy;
}

TEST(LowPass, PassesHalvesAndStops) {
    for (const double cutoff : {0.4 / 13.5, 3.0 / 13.5, 5.0 / 13.5}) {
        EXPECT_NEAR(response(cutoff, 0.001), 1, 0.01) << cutoff;
        EXPECT_NEAR(response(cutoff, 0.79 * cutoff), 1, 0.01) << cutoff;
        EXPECT_NEAR(response(cutoff, cutoff), 0.5, 0.01) << cutoff;
        for (double f = 1.21 * cutoff; f < 0.5; f += 0.01)
            EXPECT_NEAR(response(cutoff, f), 0, std::pow(10, -45 / 20.0)) << cutoff << " " << f;
    }
}

TEST(LowPass, DoesNothingFromHalfTheSamplingRateOn) {
    LowPass filter(0.5);
    std::vector<float> row{0.1F, 0.9F, 0.2F};
    const auto before = row;
    filter.apply(row);
    EXPECT_EQ(row, before);
}

TEST(LowPass, KeepsAFlatRowToItsEnds) {
    LowPass filter(0.2);
    std::vector<float> row(50, 0.75F);
    filter.apply(row);
    for (const float v : row) EXPECT_NEAR(v, 0.75F, 1e-6F);
}

}  // namespace
}  // namespace guardband::testsignal
