#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <vector>

namespace guardband::measure {

/// How often each level occurs at each of a row of places: coarse histograms side by side, in steps of half a code up
/// to the middle of the range, where blanking and dark pictures are told apart; what is brighter counts as that.
class LevelCounts {
public:
    explicit LevelCounts(std::size_t places = 0) : places_(places), counts_(places * bins), sums_(places) {}

    /// @param level  8-bit codes
    void add(std::size_t place, double level) {
        const double bin = std::clamp(level * per_code, 0.0, static_cast<double>(bins - 1));
        ++counts_[place * bins + static_cast<std::size_t>(bin)];
        sums_[place] += level;
        if (place == 0) ++seen_;
    }
    std::size_t places() const { return places_; }
    /// How often each place was seen; all are seen alike.
    std::int64_t seen() const { return seen_; }
    double mean(std::size_t place) const {
        return sums_[place] / static_cast<double>(std::max<std::int64_t>(seen_, 1));
    }
    /// The level that is not exceeded for this share of what was added, within a quarter of a code. @param share  0 … 1
    double quantile(std::size_t place, double share) const {
        const double wanted = share * static_cast<double>(seen_);
        double below = 0;
        for (std::size_t bin = 0; bin < bins; ++bin) {
            below += counts_[place * bins + bin];
            if (below >= wanted) return (static_cast<double>(bin) + 0.5) / per_code;
        }
        return bins / per_code;
    }

private:
    static constexpr std::size_t bins = 256;
    static constexpr double per_code = 2;

    std::size_t places_;
    std::vector<std::uint32_t> counts_;
    std::vector<double> sums_;
    std::int64_t seen_ = 0;
};

}  // namespace guardband::measure
