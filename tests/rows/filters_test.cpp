// The fast filters against the plain one, over lengths that fill vectors and that don't.
#include "rows/filters.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>
#include <vector>

namespace guardband::rows {
namespace {

TEST(Filter, FastIsPlain) {
    std::mt19937 random(5);
    std::uniform_real_distribution<float> value(-1, 1);
    for (const int taps : {8, 24, 40})
        for (const int step : {1, 2, 4, 7})
            for (const int outputs : {1, 3, 8, 16, 37}) {
                // Nothing behind the last sample, so that the address sanitizer sees a read too far.
                std::vector<float> x(static_cast<std::size_t>((outputs - 1) * step + taps)),
                    h(static_cast<std::size_t>(taps));
                for (float& sample : x) sample = value(random);
                for (float& tap : h) tap = value(random);
                std::vector<float> plain(static_cast<std::size_t>(outputs)), fast(plain.size());
                plain_filter()(x.data(), h.data(), taps, step, outputs, plain.data());
                for (const auto& [target, filter] : fast_filters_of_each_target()) {
                    std::ranges::fill(fast, 9.0F);
                    filter(x.data(), h.data(), taps, step, outputs, fast.data());
                    for (std::size_t i = 0; i < plain.size(); ++i)
                        ASSERT_NEAR(fast[i], plain[i], 1e-5) << target << ", " << taps << " taps, every " << step;
                }
            }
}

TEST(Filter, PlainIsTheSumOfProducts) {
    const std::vector<float> x{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, taps{1, 0, -1, 0, 0, 0, 0, 2};
    std::vector<float> out(2);
    plain_filter()(x.data(), taps.data(), 8, 2, 2, out.data());
    EXPECT_EQ(out, (std::vector<float>{1 - 3 + 16, 3 - 5 + 20}));
}

}  // namespace
}  // namespace guardband::rows
