#include "measure/sound/drift.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <vector>

#include "dsp/robust.h"
#include "quantity/errors.h"

namespace guardband::measure {
namespace {

constexpr double block_s = 1;
constexpr std::size_t fewest_blocks = 5, most_blocks = 40;
/// Efficiency of a Theil–Sen slope against least squares on normal scatter is 0.95 or better.
constexpr double slope_widening = 1.05;

std::vector<double> block_means(std::span<const float> series, std::size_t blocks) {
    std::vector<double> means;
    for (std::size_t b = 0; b < blocks; ++b) {
        const std::size_t from = series.size() * b / blocks, to = series.size() * (b + 1) / blocks;
        means.push_back(std::accumulate(series.begin() + static_cast<std::ptrdiff_t>(from),
                                        series.begin() + static_cast<std::ptrdiff_t>(to), 0.0) /
                        static_cast<double>(to - from));
    }
    return means;
}

double median_slope(const std::vector<double>& means) {
    std::vector<double> slopes;
    for (std::size_t i = 0; i < means.size(); ++i)
        for (std::size_t j = i + 1; j < means.size(); ++j)
            slopes.push_back((means[j] - means[i]) / static_cast<double>(j - i));
    return dsp::median(slopes);
}

}  // namespace

Drift find_drift(std::span<const float> deviation, double rate_hz) {
    if (deviation.size() < 4 * fewest_blocks) throw quantity::DomainError("a drift needs 20 values or more");
    const double seconds = static_cast<double>(deviation.size()) / rate_hz;
    const std::size_t blocks = std::clamp(static_cast<std::size_t>(seconds / block_s), fewest_blocks, most_blocks);
    const std::vector<double> means = block_means(deviation, blocks);
    const auto count = static_cast<double>(blocks);
    const double slope = median_slope(means);
    Drift drift;
    drift.mean = std::accumulate(means.begin(), means.end(), 0.0) / count;
    drift.change = slope * count;
    std::vector<double> rests;
    for (std::size_t b = 0; b < blocks; ++b)
        rests.push_back(means[b] - drift.mean - slope * (static_cast<double>(b) - (count - 1) / 2));
    const double scatter = std::sqrt(std::inner_product(rests.begin(), rests.end(), rests.begin(), 0.0) / (count - 2));
    drift.mean_uncertainty = scatter / std::sqrt(count);
    drift.change_uncertainty = slope_widening * scatter * std::sqrt(12 / count);
    return drift;
}

}  // namespace guardband::measure
