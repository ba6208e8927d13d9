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

struct Neighbours {
    double low, high;
};

/// The value with `place` values before it in rising order, and the one after it.
template <typename T>
Neighbours at_place(std::span<T> values, std::size_t place) {
    const auto here = values.begin() + static_cast<std::ptrdiff_t>(place);
    std::nth_element(values.begin(), here, values.end());
    return {static_cast<double>(*here),
            static_cast<double>(here + 1 == values.end() ? *here : *std::min_element(here + 1, values.end()))};
}

/// Numbers values in rising order by sign, exponent and leading bits: four numbers to an octave.
std::uint32_t size_class(float value) {
    const auto bits = std::bit_cast<std::uint32_t>(value);
    constexpr std::uint32_t sign = 1U << 31;
    return ((bits & sign) != 0 ? ~bits : bits | sign) >> 21;
}

/// As `at_place`. To choose among thousands of values in no order the processor has to guess at every other one. So
/// they are counted by size first, which takes no guess, and only those are looked at that are of the right size.
Neighbours at_place_of_many(std::span<float> values, std::size_t place) {
    std::array<std::uint32_t, 1U << 11> counts{};
    for (const float value : values) ++counts[size_class(value)];
    std::uint32_t wanted = 0;
    for (; place >= counts[wanted]; ++wanted) place -= counts[wanted];
    float next_size = std::numeric_limits<float>::infinity();
    auto end = values.begin();
    for (float& value : values) {
        const std::uint32_t own = size_class(value);
        if (own == wanted) std::swap(*end++, value);
        if (own > wanted) next_size = std::min(next_size, value);
    }
    Neighbours found = at_place(std::span<float>(values.begin(), end), place);
    if (place + 1 == counts[wanted]) found.high = static_cast<double>(next_size);
    return found;
}

template <typename T>
double quantile_of(std::span<T> values, double share) {
    require(!values.empty(), "a quantile needs at least one value");
    require(share >= 0 && share <= 1, "the share of a quantile lies between 0 and 1");
    constexpr std::size_t many = 1000;
    const double place = share * static_cast<double>(values.size() - 1);
    const auto below = static_cast<std::size_t>(place);
    Neighbours found{};
    if constexpr (std::is_same_v<T, float>)
        found = values.size() >= many ? at_place_of_many(values, below) : at_place(values, below);
    else
        found = at_place(values, below);
    const double rest = place - static_cast<double>(below);
    return rest == 0 ? found.low : found.low + rest * (found.high - found.low);
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
