#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

namespace guardband::measure {

/// A straight line through time stamps: ticks against the slots that frames take, in memory that does not grow.
///
/// Stamps are gathered in up to 1024 blocks of neighbours, each kept as its mean; when all are full, neighbours are
/// joined by twos. The line is fitted to the blocks by iteratively reweighted least squares with Tukey's biweight
/// (Beaton and Tukey, Technometrics 16, 1974; from memory), so that blocks off the line lose their say. Stamps after an
/// interruption of unknown length belong to a new segment, which has the line's slope but its own offset.
///
/// Bias: none for stamps rounded to ticks, unless the rate is so close to a whole number of ticks that the rounding
/// never slips; the stated uncertainty covers that. Scatter: a delete-one-group jackknife over 20 stretches of the
/// clip, which sees slow wander as well as noise.
class RateFit {
public:
    /// Stamps with fewer ticks to a period than this are no clock's readings: they count frames at a rate that the
    /// header gives.
    static constexpr double least_clock_ticks = 4;

    /// @param expected_period  ticks per slot, as known so far; the fit works on the difference to it
    explicit RateFit(double expected_period) : expected_period_(expected_period) {}

    /// @param slot   place in the row of frames, missing ones counted   @param ticks  from any fixed origin
    /// @param segment  never smaller than before
    void add(double slot, double ticks, std::int64_t segment);

    struct Period {
        double ticks = 0;              ///< per slot
        double uncertainty_ticks = 0;  ///< one standard uncertainty
    };

    /// Nothing if there are fewer than two slots in any segment.
    std::optional<Period> period() const;

    /// Mean of values of one stretch, for the fit.
    struct Block {
        double count = 0, slot = 0, rest = 0;  ///< `rest`: ticks less what the expected period gives
        std::int64_t segment = 0;
        double squares = 0;  ///< sum of squares of the single values' `rest` about the mean
    };

private:
    void make_room();

    double expected_period_;
    double block_size_ = 1;  ///< stamps that a block takes
    std::vector<Block> blocks_;
};

}  // namespace guardband::measure
