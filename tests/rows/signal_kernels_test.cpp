// The fast kernels over signals against the plain ones, to rounding; the plain ones against sums that are known.
#include "rows/signal_kernels.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace guardband::rows {
namespace {

std::vector<float> noise(std::size_t count, std::mt19937& random) {
    std::normal_distribution<float> normal(0, 50);
    std::vector<float> out(count);
    for (float& one : out) one = normal(random);
    return out;
}

TEST(SignalKernels, FastOnesAgreeWithPlainOnes) {
    std::mt19937 random(1);
    for (const auto& [target, kernels] : fast_signal_kernels_of_each_target())
        for (const int width : {1, 7, 16, 61, 336, 720})
            for (const int radius : {1, 3, 5, 18}) {
                const auto row = noise(static_cast<std::size_t>(width), random),
                           weights = noise(static_cast<std::size_t>(radius), random);
                std::vector<float> plain(row.size(), 9), fast(row.size(), 9);
                plain_signal_kernels().odd_filter(row.data(), width, weights.data(), radius, plain.data());
                kernels->odd_filter(row.data(), width, weights.data(), radius, fast.data());
                for (std::size_t x = 0; x < row.size(); ++x)
                    EXPECT_NEAR(plain[x], fast[x], 0.1) << target << " " << width << " " << radius << " " << x;
            }
}

TEST(SignalKernels, FastCorrelationsAgreeWithPlainOnes) {
    std::mt19937 random(2);
    for (const auto& [target, kernels] : fast_signal_kernels_of_each_target())
        for (const int count : {1, 5, 8, 40, 83})
            for (const int lags : {1, 2, 4, 7, 25}) {
                const auto a = noise(static_cast<std::size_t>(count), random),
                           b = noise(static_cast<std::size_t>(count + lags - 1), random);  // not a sample more
                std::vector<float> plain(static_cast<std::size_t>(lags)), fast = plain;
                plain_signal_kernels().correlate(a.data(), b.data(), count, lags, plain.data());
                kernels->correlate(a.data(), b.data(), count, lags, fast.data());
                for (std::size_t j = 0; j < plain.size(); ++j)
                    EXPECT_NEAR(plain[j], fast[j], 0.5) << target << " " << count << " " << lags << " " << j;
            }
}

TEST(SignalKernels, FastCellsAgreeWithPlainOnes) {
    std::mt19937 random(3);
    for (const auto& [target, kernels] : fast_signal_kernels_of_each_target())
        for (const int cells : {0, 1, 3, 97})
            for (const int length : {1, 5, 7, 8, 16, 19}) {
                const auto row = noise(static_cast<std::size_t>(cells * length + 1), random);  // not a sample more
                std::vector<float> mean(static_cast<std::size_t>(cells)), rough = mean, fast_mean = mean,
                                                                          fast_rough = mean;
                plain_signal_kernels().cells(row.data(), cells, length, mean.data(), rough.data());
                kernels->cells(row.data(), cells, length, fast_mean.data(), fast_rough.data());
                for (std::size_t c = 0; c < mean.size(); ++c) {
                    EXPECT_NEAR(mean[c], fast_mean[c], 1e-3) << target << " " << cells << " " << length << " " << c;
                    EXPECT_NEAR(rough[c], fast_rough[c], 1e-2 + 1e-5 * rough[c]) << target << " " << length;
                }
            }
}

TEST(SignalKernels, FastPiecesAgreeWithPlainOnes) {
    std::mt19937 random(3);
    for (const auto& [target, kernels] : fast_signal_kernels_of_each_target())
        for (const int count : {1, 7, 8, 24, 37}) {
            const auto length = static_cast<std::size_t>(count);
            const auto piece = noise(length, random), change = noise(length, random), weights = noise(4, random);
            const auto expected = noise(length + 2, random), in = noise(length + 3, random);  // not a sample more
            std::vector<float> plain(length), fast = plain;
            plain_signal_kernels().interpolate(in.data() + 1, count, weights.data(), plain.data());
            kernels->interpolate(in.data() + 1, count, weights.data(), fast.data());
            for (std::size_t i = 0; i < length; ++i) EXPECT_NEAR(plain[i], fast[i], 0.02) << target << " " << count;
            for (const float* other : {change.data(), static_cast<const float*>(nullptr)}) {
                PieceMoments a, b;
                plain_signal_kernels().piece_moments(piece.data(), expected.data() + 1, other, count, &a);
                kernels->piece_moments(piece.data(), expected.data() + 1, other, count, &b);
                for (const auto member :
                     {&PieceMoments::g_squares, &PieceMoments::g_c, &PieceMoments::c_squares, &PieceMoments::g_o,
                      &PieceMoments::c_o, &PieceMoments::o, &PieceMoments::o_squares, &PieceMoments::signal,
                      &PieceMoments::signal_squares})
                    EXPECT_NEAR(a.*member, b.*member, 0.5) << target << " " << count;
            }
        }
}

TEST(SignalKernels, DoWhatTheySay) {
    const std::vector<float> ramp{0, 1, 2, 3, 4, 5, 6}, weights{0.5F, 0.25F};
    std::vector<float> out(ramp.size(), 9);
    plain_signal_kernels().odd_filter(ramp.data(), 7, weights.data(), 2, out.data());
    EXPECT_EQ(out, (std::vector<float>{0, 0, 2, 2, 2, 0, 0}));  // 0.5 · 2 + 0.25 · 4
    const std::vector<float> a{1, 2}, b{1, 10, 100};
    std::vector<float> sums(2);
    plain_signal_kernels().correlate(a.data(), b.data(), 2, 2, sums.data());
    EXPECT_EQ(sums, (std::vector<float>{21, 210}));
    std::vector<float> mean(2), rough(2);
    plain_signal_kernels().cells(std::vector<float>{0, 2, 4, 4, 0}.data(), 2, 2, mean.data(), rough.data());
    EXPECT_EQ(mean, (std::vector<float>{1, 4}));
    EXPECT_EQ(rough, (std::vector<float>{4, 8}));
    const std::vector<float> quarters{0, 0.75F, 0.25F, 0};
    plain_signal_kernels().interpolate(ramp.data() + 1, 4, quarters.data(), out.data());
    EXPECT_EQ(std::vector<float>(out.begin(), out.begin() + 4), (std::vector<float>{1.25F, 2.25F, 3.25F, 4.25F}));
    const std::vector<float> piece{3, 5}, expected{0, 2, 4, 6}, change{1, 2};
    PieceMoments m;
    plain_signal_kernels().piece_moments(piece.data(), expected.data() + 1, change.data(), 2, &m);
    EXPECT_EQ((std::vector<float>{m.g_squares, m.g_c, m.c_squares, m.g_o, m.c_o, m.o, m.o_squares, m.signal,
                                  m.signal_squares}),
              (std::vector<float>{8, -6, 5, -4, 3, 2, 2, 8, 34}));  // o: 1, 1; g: -2, -2
}

}  // namespace
}  // namespace guardband::rows
