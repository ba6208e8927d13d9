#pragma once

#include <cstdint>
#include <vector>

namespace guardband::dsp {

/// How often levels occur, in bounded memory whatever their number: a histogram over their logarithm, from which the
/// level of any share of the time is had within 0.05 %.
class LevelHistogram {
public:
    LevelHistogram();

    /// @param level  not negative; levels below 1e-9 count as 1e-9, above 1e3 as 1e3
    void add(double level);
    void add(const LevelHistogram& other);
    std::int64_t count() const { return count_; }
    /// The level that is not exceeded for this share of what was added. @param share  0 … 1
    /// @throws DomainError if nothing was added
    double quantile(double share) const;

private:
    std::vector<std::int32_t> bins_;
    std::int64_t count_ = 0;
};

}  // namespace guardband::dsp
