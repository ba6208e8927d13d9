#pragma once

#include <cmath>
#include <cstdint>

namespace guardband::measure {

/// Running mean and variance of a series.
class Tally {
public:
    void add(double value) {
        ++count_;
        const double step = value - mean_;
        mean_ += step / static_cast<double>(count_);
        squares_ += step * (value - mean_);
    }
    std::int64_t count() const { return count_; }
    double mean() const { return mean_; }
    double deviation() const { return count_ < 2 ? 0 : std::sqrt(squares_ / static_cast<double>(count_ - 1)); }
    /// Standard uncertainty of the mean.
    double uncertainty() const { return count_ < 2 ? 0 : deviation() / std::sqrt(static_cast<double>(count_)); }

private:
    std::int64_t count_ = 0;
    double mean_ = 0, squares_ = 0;
};

}  // namespace guardband::measure
