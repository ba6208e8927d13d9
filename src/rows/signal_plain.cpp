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

}  // namespace

const SignalKernels& plain_signal_kernels() {
    static const SignalKernels kernels{odd_filter, correlate, cells};
    return kernels;
}

}  // namespace guardband::rows
