// Noise and what detail adds to it, of points that were drawn by a known law.
#include "measure/clip/noise_fit.h"

#include <gtest/gtest.h>

#include "testsignal/gaussian_noise.h"

namespace guardband::measure {
namespace {

TEST(NoiseFit, LeavesOutWhatWasNotFollowedAndWhatDetailAdds) {
    testsignal::Random random(3);
    std::vector<NoisePoint> points;
    for (int i = 0; i < 400; ++i) {
        const double detail = 200 * random.uniform();
        double variance = (4 + 0.02 * detail) * (1 + 0.12 * random.gaussian());
        if (i % 4 == 0) variance += 5 * detail * random.uniform();
        points.push_back({static_cast<float>(variance), static_cast<float>(detail)});
    }
    const auto fit = fit_noise(points);
    ASSERT_TRUE(fit);
    EXPECT_NEAR(fit->variance, 4, 0.4);
    points.resize(5);
    EXPECT_FALSE(fit_noise(points));
}

}  // namespace
}  // namespace guardband::measure
