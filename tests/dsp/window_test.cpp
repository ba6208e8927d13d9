#include "dsp/window.h"

#include <gtest/gtest.h>

namespace guardband::dsp {
namespace {

TEST(Hann, HasItsClosedFormFigures) {
    // Mean of sin² is 1/2 and of sin⁴ is 3/8, so the noise bandwidth is (3/8) / (1/2)² = 1.5 bins.
    for (std::size_t n : {3U, 4U, 60U, 1001U}) {
        const auto window = hann(n);
        EXPECT_NEAR(coherent_gain(window), 0.5, 1e-6) << n;
        EXPECT_NEAR(noise_bandwidth_bins(window), 1.5, 1e-5) << n;
        EXPECT_FLOAT_EQ(window.front(), window.back());
        EXPECT_GT(window.front(), 0);
    }
}

TEST(Hann, EmptyIsEmpty) {
    EXPECT_TRUE(hann(0).empty());
    EXPECT_EQ(coherent_gain({}), 0);
    EXPECT_EQ(noise_bandwidth_bins({}), 0);
}

TEST(NoiseBandwidth, IsOneWithoutWindow) {
    const std::vector<float> flat(37, 2.5F);
    EXPECT_NEAR(noise_bandwidth_bins(flat), 1, 1e-12);
}

}  // namespace
}  // namespace guardband::dsp
