#include "measure/waveform/noise_bias.h"

#include <algorithm>
#include <cmath>
#include <random>

namespace guardband::measure {
namespace {

constexpr int draws = 200;

constexpr double hardly_noise = 3.5;  ///< deviations: one value in two thousand

std::vector<double> guessed(std::span<const double> values, std::span<const double> likely, double deviation,
                            bool together) {
    double square = 0;
    for (std::size_t i = 0; i < values.size(); ++i)
        square += (values[i] - likely[i]) * (values[i] - likely[i]) / static_cast<double>(values.size());
    const double common = square > 0 ? std::sqrt(std::max(0.0, 1 - deviation * deviation / square)) : 0;
    std::vector<double> out;
    for (std::size_t i = 0; i < values.size(); ++i) {
        const double off = values[i] - likely[i];
        out.push_back(likely[i] + off * (together ? common : std::abs(off) > hardly_noise * deviation ? 1 : 0));
    }
    return out;
}

}  // namespace

double without_noise_bias(std::span<const double> values, std::span<const double> likely, double deviation,
                          bool together, const std::function<double(std::span<const double>)>& reading) {
    const double read = reading(values);
    if (!(deviation > 0)) return read;
    const std::vector<double> clean = guessed(values, likely, deviation, together);
    std::vector<double> noisy(clean.size());
    std::mt19937 random(1);  // NOLINT(bugprone-random-generator-seed,cert-msc51-cpp): the same samples, the same figure
    std::normal_distribution<double> normal(0, deviation);
    double mean = 0;
    for (int draw = 0; draw < draws; ++draw) {
        for (std::size_t i = 0; i < clean.size(); ++i) noisy[i] = clean[i] + normal(random);
        mean += reading(noisy) / draws;
    }
    return std::max(0.0, read - (mean - reading(clean)));
}

}  // namespace guardband::measure
