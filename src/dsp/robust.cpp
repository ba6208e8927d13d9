#include "dsp/robust.h"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <numeric>
#include <type_traits>

#include "quantity/errors.h"

namespace guardband::dsp {
namespace {

// 1 / Φ⁻¹(3/4): half of a normal distribution lies within 0.6745 standard deviations of its middle.
constexpr double sigma_per_mad = 1.482602218505602;

void require(bool condition, const char* what) {
    if (!condition) throw quantity::DomainError(what);
}

/// A value by its place in the order, and the one above it.
struct Neighbours {
    double low = 0, high = 0;
};

/// @param has_high  whether there is one above and it is asked for
template <typename T>
Neighbours neighbours(std::span<T> values, std::ptrdiff_t place, bool has_high) {
    std::nth_element(values.begin(), values.begin() + place, values.end());
    const double low = values[static_cast<std::size_t>(place)];
    return {low, has_high ? double{*std::min_element(values.begin() + place + 1, values.end())} : low};
}

/// Counting is worth its while from so many values up: each comparison with a pivot is a branch that can't be foreseen.
constexpr std::size_t worth_counting = 1000;

/// The leading bits of a number, such that their order is that of the numbers.
std::uint32_t bin_of(float value) {
    constexpr int dropped = 21;
    const auto bits = std::bit_cast<std::uint32_t>(value);
    return (bits ^ ((bits >> 31) != 0 ? 0xFFFF'FFFFU : 0x8000'0000U)) >> dropped;
}

/// Likewise, for many: only those of one bin are compared.
Neighbours neighbours_of_many(std::span<const float> values, std::ptrdiff_t place, bool has_high) {
    std::array<std::uint32_t, 2048> counts{};
    for (const float value : values) ++counts[bin_of(value)];
    std::uint32_t bin = 0;
    for (; place >= static_cast<std::ptrdiff_t>(counts[bin]); ++bin) place -= counts[bin];
    std::vector<float> here;
    here.reserve(counts[bin]);
    float above = std::numeric_limits<float>::infinity();
    for (const float value : values) {
        const std::uint32_t its = bin_of(value);
        if (its == bin) here.push_back(value);
        above = its > bin ? std::min(above, value) : above;
    }
    const bool in_bin = place + 1 < static_cast<std::ptrdiff_t>(here.size());
    Neighbours found = neighbours(std::span(here), place, has_high && in_bin);
    if (has_high && !in_bin) found.high = above;
    return found;
}

template <typename T>
double quantile_of(std::span<T> values, double share) {
    require(!values.empty(), "a quantile needs at least one value");
    require(share >= 0 && share <= 1, "the share of a quantile lies between 0 and 1");
    const double place = share * static_cast<double>(values.size() - 1);
    const auto below = static_cast<std::ptrdiff_t>(place);
    const double rest = place - static_cast<double>(below);
    const auto [low, high] = [&] {
        if constexpr (std::is_same_v<T, float>)
            if (values.size() >= worth_counting) return neighbours_of_many(values, below, rest > 0);
        return neighbours(values, below, rest > 0);
    }();
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

double half_sample_mode(std::span<const double> values) {
    require(!values.empty(), "a mode needs at least one value");
    std::vector<double> sorted(values.begin(), values.end());
    std::sort(sorted.begin(), sorted.end());
    std::span<const double> left = sorted;
    while (left.size() > 3) {
        const std::size_t half = (left.size() + 1) / 2;
        std::size_t densest = 0;
        for (std::size_t i = 1; i + half <= left.size(); ++i)
            if (left[i + half - 1] - left[i] < left[densest + half - 1] - left[densest]) densest = i;
        left = left.subspan(densest, half);
    }
    return std::accumulate(left.begin(), left.end(), 0.0) / static_cast<double>(left.size());
}

}  // namespace guardband::dsp
