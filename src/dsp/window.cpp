#include "dsp/window.h"

#include <cmath>
#include <numbers>

namespace guardband::dsp {

std::vector<float> hann(std::size_t length) {
    std::vector<float> window(length);
    const double step = std::numbers::pi / static_cast<double>(length);
    for (std::size_t n = 0; n < length; ++n) {
        const double s = std::sin(step * (static_cast<double>(n) + 0.5));
        window[n] = static_cast<float>(s * s);
    }
    return window;
}

double coherent_gain(std::span<const float> window) {
    double sum = 0;
    for (const float w : window) sum += w;
    return window.empty() ? 0 : sum / static_cast<double>(window.size());
}

double noise_bandwidth_bins(std::span<const float> window) {
    double sum = 0, squares = 0;
    for (const float w : window) sum += w, squares += static_cast<double>(w) * w;
    return sum == 0 ? 0 : static_cast<double>(window.size()) * squares / (sum * sum);
}

}  // namespace guardband::dsp
