#include "testsignal/shifted_rows.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace guardband::testsignal {
namespace {

double lanczos(double x, int half) {
    if (x == 0) return 1;
    if (std::abs(x) >= half) return 0;
    const double p = std::numbers::pi * x;
    return half * std::sin(p) * std::sin(p / half) / (p * p);
}

template <std::size_t N>
void set_weights(std::array<float, N>& weights, double fraction) {
    constexpr int half = static_cast<int>(N) / 2;
    std::array<double, N> exact{};
    double sum = 0;
    for (std::size_t k = 0; k < N; ++k) sum += exact[k] = lanczos(static_cast<double>(k) - (half - 1) - fraction, half);
    for (std::size_t k = 0; k < N; ++k) weights[k] = static_cast<float>(exact[k] / sum);
}

int wrapped(int i, int period) { return ((i % period) + period) % period; }

}  // namespace

void ShiftedRows::set(const FloatPlane& plane, double shift_x, double shift_y) {
    plane_ = &plane;
    const double x = -std::fmod(shift_x, plane.width), y = -std::fmod(shift_y, plane.height);
    base_x_ = static_cast<int>(std::floor(x)), base_y_ = static_cast<int>(std::floor(y));
    set_weights(weight_x_, x - base_x_);
    set_weights(weight_y_, y - base_y_);
}

void ShiftedRows::blend_rows(int y, int x_first, int count) {
    std::array<const float*, taps_y> rows{};
    for (int k = 0; k < taps_y; ++k)
        rows[static_cast<std::size_t>(k)] = plane_->row(wrapped(y + base_y_ + k - (taps_y / 2 - 1), plane_->height));
    blended_.resize(static_cast<std::size_t>(count));
    int column = wrapped(x_first, plane_->width);
    for (int done = 0; done < count; column = 0) {
        const int piece = std::min(count - done, plane_->width - column);
        const auto [r0, r1, r2, r3, r4, r5] = rows;
        const auto [w0, w1, w2, w3, w4, w5] = weight_y_;
        float* out = blended_.data() + done;
        for (int i = 0; i < piece; ++i) {
            const int c = column + i;
            out[i] = w0 * r0[c] + w1 * r1[c] + w2 * r2[c] + w3 * r3[c] + w4 * r4[c] + w5 * r5[c];
        }
        done += piece;
    }
}

void ShiftedRows::row(int y, int x_first, std::span<float> out) {
    const int count = static_cast<int>(out.size());
    blend_rows(y, x_first + base_x_ - (taps_x / 2 - 1), count + taps_x - 1);
    const float* in = blended_.data();
    float* to = out.data();
    const auto [w0, w1, w2, w3, w4, w5, w6, w7] = weight_x_;
    for (int x = 0; x < count; ++x)
        to[x] = w0 * in[x] + w1 * in[x + 1] + w2 * in[x + 2] + w3 * in[x + 3] + w4 * in[x + 4] + w5 * in[x + 5] +
                w6 * in[x + 6] + w7 * in[x + 7];
}

}  // namespace guardband::testsignal
