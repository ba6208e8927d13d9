#include "measure/sound/drift.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <vector>

#include "dsp/robust.h"
#include "dsp/window.h"
#include "quantity/errors.h"

namespace guardband::measure {
namespace {

constexpr double blocks_per_length = 5;  ///< a wow with more than two turns in a block does not show
constexpr double shortest_block_s = 1;
constexpr double rounding = 3e-8;  ///< of the series' single precision
constexpr std::size_t fewest_values = 20;
constexpr std::size_t places = 40;  ///< of blocks; they overlap
/// Efficiency of a Theil–Sen slope against least squares on normal scatter is 0.95 or better.
constexpr double slope_widening = 1.05;

/// Means under Hann's window, whose skirts keep wow out, at places spread evenly over the series.
std::vector<double> block_means(std::span<const float> series, std::size_t length) {
    const std::vector<float> window = dsp::hann(length);
    const double weight = std::accumulate(window.begin(), window.end(), 0.0);
    std::vector<double> means;
    for (std::size_t p = 0; p < places; ++p) {
        const auto from = static_cast<std::ptrdiff_t>((series.size() - length) * p / (places - 1));
        means.push_back(std::inner_product(window.begin(), window.end(), series.begin() + from, 0.0) / weight);
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
    if (deviation.size() < fewest_values) throw quantity::DomainError("a drift needs 20 values or more");
    const double shortest = std::min(shortest_block_s * rate_hz, static_cast<double>(deviation.size()) / 2);
    const auto length =
        static_cast<std::size_t>(std::max(shortest, static_cast<double>(deviation.size()) / blocks_per_length));
    const std::vector<double> means = block_means(deviation, length);
    const double slope = median_slope(means);
    Drift drift;
    drift.mean = std::accumulate(means.begin(), means.end(), 0.0) / places;
    const double span = static_cast<double>(deviation.size() - length);  // between the first and the last place
    drift.change = slope * (places - 1) * static_cast<double>(deviation.size()) / span;
    double squares = 0;
    for (std::size_t p = 0; p < places; ++p) {
        const double rest = means[p] - drift.mean - slope * (static_cast<double>(p) - (places - 1) / 2.0);
        squares += rest * rest / (places - 2);
    }
    const double independent = 2 * static_cast<double>(deviation.size()) / static_cast<double>(length);
    drift.mean_uncertainty = std::hypot(std::sqrt(squares / independent), rounding);
    drift.change_uncertainty =
        slope_widening * std::sqrt(12 * squares / independent) * static_cast<double>(deviation.size()) / span;
    return drift;
}

Trend straight_trend(std::span<const float> deviation) {
    const std::vector<float> window = dsp::hann(deviation.size());
    const auto count = static_cast<double>(deviation.size());
    double weights = 0, values = 0, moments = 0, spread = 0;
    for (std::size_t i = 0; i < deviation.size(); ++i) {
        const double weight = window[i], place = (static_cast<double>(i) + 0.5) / count - 0.5;
        weights += weight;
        values += weight * deviation[i];
        moments += weight * place * deviation[i];
        spread += weight * place * place;
    }
    return {values / weights, moments / spread};
}

}  // namespace guardband::measure
