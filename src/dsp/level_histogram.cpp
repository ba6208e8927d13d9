#include "dsp/level_histogram.h"

#include <algorithm>
#include <cmath>

#include "quantity/errors.h"

namespace guardband::dsp {
namespace {

constexpr double lowest = 1e-9, highest = 1e3;
constexpr double bins_per_e_fold = 1000;  // 0.1 % a bin, so that its middle is within 0.05 %

}  // namespace

LevelHistogram::LevelHistogram()
    : bins_(static_cast<std::size_t>(std::log(highest / lowest) * bins_per_e_fold) + 1, 0) {}

void LevelHistogram::add(double level) {
    const double place = std::log(std::clamp(level, lowest, highest) / lowest) * bins_per_e_fold;
    ++bins_[std::min(bins_.size() - 1, static_cast<std::size_t>(place))];
    ++count_;
}

void LevelHistogram::add(const LevelHistogram& other) {
    for (std::size_t i = 0; i < bins_.size(); ++i) bins_[i] += other.bins_[i];
    count_ += other.count_;
}

double LevelHistogram::quantile(double share) const {
    if (count_ == 0) throw quantity::DomainError("no level was added");
    const double wanted = std::clamp(share, 0.0, 1.0) * static_cast<double>(count_);
    double below = 0;
    std::size_t bin = 0;
    for (; bin + 1 < bins_.size(); ++bin) {
        below += bins_[bin];
        if (below >= wanted && below > 0) break;
    }
    return lowest * std::exp((static_cast<double>(bin) + 0.5) / bins_per_e_fold);
}

}  // namespace guardband::dsp
