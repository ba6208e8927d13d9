// An odd filter of a Gaussian's slope: white noise keeps its RMS, and a ramp reads as the sum that its weights make.
#include "dsp/slope_filter.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <vector>

namespace guardband::dsp {
namespace {

TEST(SlopeFilter, KeepsTheRmsOfWhiteNoiseAndHasAGaussiansSlope) {
    for (const double sigma : {0.5, 1.0, 2.25, 4.5}) {
        const std::vector<float> weights = slope_weights(sigma);
        ASSERT_EQ(weights.size(), static_cast<std::size_t>(std::ceil(3 * sigma))) << sigma;
        double squares = 0;
        for (const float weight : weights) squares += 2 * std::pow(static_cast<double>(weight), 2);
        EXPECT_NEAR(squares, 1, 1e-5) << sigma;
        // k exp(−k² / 2 σ²), by its ratio to the first.
        for (std::size_t i = 1; i < weights.size(); ++i) {
            const auto k = static_cast<double>(i + 1);
            EXPECT_NEAR(static_cast<double>(weights[i] / weights[0]), k * std::exp((1 - k * k) / (2 * sigma * sigma)),
                        1e-5)
                << sigma << ' ' << k;
        }
    }
}

}  // namespace
}  // namespace guardband::dsp
