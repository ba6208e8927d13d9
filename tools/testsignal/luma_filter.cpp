#include "testsignal/luma_filter.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace guardband::testsignal {
namespace {

constexpr double stop_db = 50;
constexpr double transition_ratio =
    0.4;  // of the cut-off, half on each side: steep enough to bound the band, gentle enough to ring little

double bessel_i0(double x) {
    double sum = 1, term = 1;
    for (int k = 1; term > 1e-12 * sum; ++k) {
        term *= (x / 2 / k) * (x / 2 / k);
        sum += term;
    }
    return sum;
}

double sinc(double x) { return x == 0 ? 1 : std::sin(std::numbers::pi * x) / (std::numbers::pi * x); }

// Kaiser's design rules for a window of `stop_db`.
std::vector<float> kaiser_half(double cutoff) {
    const double beta = 0.5842 * std::pow(stop_db - 21, 0.4) + 0.07886 * (stop_db - 21);
    const double transition = 2 * std::numbers::pi * cutoff * transition_ratio;
    const int half = static_cast<int>(std::ceil((stop_db - 8) / (2.285 * transition) / 2));
    std::vector<double> taps;
    for (int k = 0; k <= half; ++k) {
        const double at = static_cast<double>(k) / (half + 1);
        taps.push_back(2 * cutoff * sinc(2 * cutoff * k) * bessel_i0(beta * std::sqrt(1 - at * at)) / bessel_i0(beta));
    }
    double sum = taps[0];
    for (std::size_t k = 1; k < taps.size(); ++k) sum += 2 * taps[k];
    std::vector<float> out(taps.size());
    std::ranges::transform(taps, out.begin(), [sum](double tap) { return static_cast<float>(tap / sum); });
    return out;
}

}  // namespace

LowPass::LowPass(double cutoff) : taps_{1.0F} {
    if (cutoff < 0.5) taps_ = kaiser_half(cutoff);
}

void LowPass::apply(std::span<float> row) {
    if (passes_all() || row.empty()) return;
    const std::size_t half = taps_.size() - 1, n = row.size();
    padded_.resize(n + 2 * half);
    std::fill_n(padded_.begin(), half, row.front());
    std::copy(row.begin(), row.end(), padded_.begin() + static_cast<std::ptrdiff_t>(half));
    std::fill_n(padded_.end() - static_cast<std::ptrdiff_t>(half), half, row.back());
    const float* centre = padded_.data() + half;
    float* out = row.data();
    for (std::size_t x = 0; x < n; ++x) out[x] = taps_[0] * centre[x];
    for (std::size_t k = 1; k <= half; ++k) {
        const float tap = taps_[k];
        const float *left = centre - k, *right = centre + k;
        for (std::size_t x = 0; x < n; ++x) out[x] += tap * (left[x] + right[x]);
    }
}

}  // namespace guardband::testsignal
