#include "dsp/robust.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "quantity/errors.h"

namespace guardband::dsp {
namespace {

// 1 / Φ⁻¹(3/4): half of a normal distribution lies within 0.6745 standard deviations of its middle.
constexpr double sigma_per_mad = 1.482602218505602;

void require(bool condition, const char* what) {
    if (!condition) throw quantity::DomainError(what);
}

template <typename T>
double quantile_of(std::span<T> values, double share) {
    require(!values.empty(), "a quantile needs at least one value");
    require(share >= 0 && share <= 1, "the share of a quantile lies between 0 and 1");
    const double place = share * static_cast<double>(values.size() - 1);
    const auto below = static_cast<std::ptrdiff_t>(place);
    std::nth_element(values.begin(), values.begin() + below, values.end());
    const double low = values[static_cast<std::size_t>(below)];
    const double rest = place - static_cast<double>(below);
    if (rest == 0) return low;
    const double high = *std::min_element(values.begin() + below + 1, values.end());
    return low + rest * (high - low);
}

template <typename T>
double median_of(std::span<const T> values) {
    std::vector<T> copy(values.begin(), values.end());
    return quantile_of(std::span<T>(copy), 0.5);
}

template <typename T>
double spread_of(std::span<const T> values) {
    const double middle = median_of(values);
    std::vector<T> deviations(values.begin(), values.end());
    for (T& v : deviations) v = static_cast<T>(std::abs(v - middle));
    return sigma_per_mad * quantile_of(std::span<T>(deviations), 0.5);
}

}  // namespace

double quantile_in_place(std::span<float> values, double share) { return quantile_of(values, share); }
double quantile_in_place(std::span<double> values, double share) { return quantile_of(values, share); }
double median(std::span<const float> values) { return median_of(values); }
double median(std::span<const double> values) { return median_of(values); }
double spread(std::span<const float> values) { return spread_of(values); }
double spread(std::span<const double> values) { return spread_of(values); }

double trimmed_mean(std::span<const double> values, double share) {
    require(!values.empty(), "a mean needs at least one value");
    require(share >= 0 && share < 0.5, "less than half of the values can be cut off at either end");
    std::vector<double> sorted(values.begin(), values.end());
    std::sort(sorted.begin(), sorted.end());
    const auto cut = static_cast<std::ptrdiff_t>(share * static_cast<double>(sorted.size()));
    return std::accumulate(sorted.begin() + cut, sorted.end() - cut, 0.0) /
           static_cast<double>(static_cast<std::ptrdiff_t>(sorted.size()) - 2 * cut);
}

}  // namespace guardband::dsp
