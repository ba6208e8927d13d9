#pragma once

#include <string>
#include <vector>

namespace guardband::rows {

/// Taps of a filter are given in whole groups of so many; fill up with zeros.
inline constexpr int filter_tap_group = 8;

/// Filters samples and keeps every `step`-th result: out[i] = Σ taps[k] x[i step + k].
/// @param x      (outputs − 1) step + taps values; padding taps read too
/// @param taps   `tap_count` of them, a multiple of `filter_tap_group`
/// @param step   > 0
using FilterSamples = void (*)(const float* x, const float* taps, int tap_count, int step, int outputs, float* out);

/// Written for the reader; the truth that the fast version is tested against. Sums in single precision.
FilterSamples plain_filter();

/// Chosen at the first call for the processor that runs it. Sums in another order: differs by rounding.
FilterSamples fast_filter();

struct NamedFilter {
    std::string target;  ///< kind of processor, e.g. `AVX2`
    FilterSamples filter;
};

/// The fast versions that this processor can run, for tests: not only the one that would be chosen.
std::vector<NamedFilter> fast_filters_of_each_target();

}  // namespace guardband::rows
