#include "testsignal/shifted_rows.h"

#include <algorithm>
#include <cmath>

#include "testsignal/shift_kernel.h"

namespace guardband::testsignal {
namespace {

int wrapped(int i, int period) { return ((i % period) + period) % period; }

}  // namespace

void ShiftedRows::set(const FloatPlane& plane, double shift_x, double shift_y) {
    plane_ = &plane;
    const double x = -std::fmod(shift_x, plane.width), y = -std::fmod(shift_y, plane.height);
    base_x_ = static_cast<int>(std::floor(x)), base_y_ = static_cast<int>(std::floor(y));
    // Pictures reach up to 5 MHz of 13.5 MHz along the line, and what the aperture leaves down the column.
    static const ShiftKernel along_row(taps_x, 0.38), down_column(taps_y, 0.35);
    along_row.weights(x - base_x_, weight_x_);
    down_column.weights(y - base_y_, weight_y_);
}

void ShiftedRows::blend_rows(int y, int x_first, int count) {
    std::array<const float*, taps_y> rows{};
    for (int k = 0; k < taps_y; ++k)
        rows[static_cast<std::size_t>(k)] = plane_->row(wrapped(y + base_y_ + k - (taps_y / 2 - 1), plane_->height));
    blended_.resize(static_cast<std::size_t>(count));
    int column = wrapped(x_first, plane_->width);
    for (int done = 0; done < count; column = 0) {
        const int piece = std::min(count - done, plane_->width - column);
        const auto [r0, r1, r2, r3, r4, r5, r6, r7] = rows;
        const auto [w0, w1, w2, w3, w4, w5, w6, w7] = weight_y_;
        float* out = blended_.data() + done;
        for (int i = 0; i < piece; ++i) {
            const int c = column + i;
            out[i] =
                w0 * r0[c] + w1 * r1[c] + w2 * r2[c] + w3 * r3[c] + w4 * r4[c] + w5 * r5[c] + w6 * r6[c] + w7 * r7[c];
        }
        done += piece;
    }
}

void ShiftedRows::row(int y, int x_first, std::span<float> out) {
    const int count = static_cast<int>(out.size());
    blend_rows(y, x_first + base_x_ - (taps_x / 2 - 1), count + taps_x - 1);
    const float* in = blended_.data();
    float* to = out.data();
    const auto [w0, w1, w2, w3, w4, w5, w6, w7, w8, w9] = weight_x_;
    for (int x = 0; x < count; ++x)
        to[x] = w0 * in[x] + w1 * in[x + 1] + w2 * in[x + 2] + w3 * in[x + 3] + w4 * in[x + 4] + w5 * in[x + 5] +
                w6 * in[x + 6] + w7 * in[x + 7] + w8 * in[x + 8] + w9 * in[x + 9];
}

}  // namespace guardband::testsignal
