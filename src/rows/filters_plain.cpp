#include "rows/filters.h"

namespace guardband::rows {
namespace {

void filter_samples(const float* x, const float* taps, int tap_count, int step, int outputs, float* out) {
    for (int i = 0; i < outputs; ++i) {
        float sum = 0;
        for (int k = 0; k < tap_count; ++k) sum += taps[k] * x[i * step + k];
        out[i] = sum;
    }
}

}  // namespace

FilterSamples plain_filter() { return filter_samples; }

}  // namespace guardband::rows
