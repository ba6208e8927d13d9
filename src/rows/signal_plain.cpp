#include <algorithm>

#include "rows/signal_kernels.h"

namespace guardband::rows {
namespace {

void odd_filter(const float* in, int width, const float* weights, int radius, float* out) {
    std::fill(out, out + width, 0.0F);
    for (int x = radius; x < width - radius; ++x)
        for (int k = 1; k <= radius; ++k) out[x] += weights[k - 1] * (in[x + k] - in[x - k]);
}

void correlate(const float* a, const float* b, int count, int lags, float* out) {
    for (int j = 0; j < lags; ++j) {
        out[j] = 0;
        for (int k = 0; k < count; ++k) out[j] += a[k] * b[k + j];
    }
}

void cells(const float* in, int cells, int length, float* mean, float* rough) {
    for (int c = 0; c < cells; ++c) {
        float sum = 0, squares = 0;
        for (int i = c * length; i < (c + 1) * length; ++i) {
            sum += in[i];
            squares += (in[i + 1] - in[i]) * (in[i + 1] - in[i]);
        }
        mean[c] = sum / static_cast<float>(length);
        rough[c] = squares / static_cast<float>(length);
    }
}

void interpolate(const float* in, int count, const float* weights, float* out) {
    for (int i = 0; i < count; ++i)
        out[i] = weights[0] * in[i - 1] + weights[1] * in[i] + weights[2] * in[i + 1] + weights[3] * in[i + 2];
}

void piece_moments(const float* piece, const float* expected, const float* change, int count, PieceMoments* out) {
    PieceMoments m;
    for (int i = 0; i < count; ++i) {
        const float o = piece[i] - expected[i], g = (expected[i - 1] - expected[i + 1]) / 2;
        const float c = change != nullptr ? change[i] : 0;
        m.g_squares += g * g, m.g_c += g * c, m.c_squares += c * c, m.g_o += g * o, m.c_o += c * o;
        m.o += o, m.o_squares += o * o;
        m.signal += piece[i], m.signal_squares += piece[i] * piece[i];
    }
    *out = m;
}

}  // namespace

const SignalKernels& plain_signal_kernels() {
    static const SignalKernels kernels{odd_filter, correlate, cells, interpolate, piece_moments};
    return kernels;
}

}  // namespace guardband::rows
