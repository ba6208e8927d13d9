#pragma once

#include <algorithm>
#include <cstddef>
#include <utility>
#include <vector>

namespace guardband::measure {

/// Quantiles of the same values, asked for from the greatest to the least: each look leaves fewer values for the next.
/// 0 of nothing. Leaves the values in another order.
class FallingQuantiles {
public:
    explicit FallingQuantiles(std::vector<float>& values) : values_(values), end_(values.end()) {}

    float next(double share) {
        if (values_.empty()) return 0;
        const auto nth = values_.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(values_.size() - 1));
        if (nth < end_) std::nth_element(values_.begin(), nth, std::exchange(end_, nth));
        return *nth;
    }

private:
    std::vector<float>& values_;
    std::vector<float>::iterator end_;
};

/// One quantile; 0 of nothing. Leaves the values in another order.
inline float quantile(std::vector<float>& values, double share) { return FallingQuantiles(values).next(share); }

}  // namespace guardband::measure
