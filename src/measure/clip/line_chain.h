#pragma once

#include <span>
#include <vector>

#include "measure/clip/picture_edges.h"

namespace guardband::measure {

/// Displacement of the lines of a field after all evidence, from top to bottom.
struct PlacedLines {
    std::vector<float> place_px;
    std::vector<float> variance;       ///< of each place, squared samples
    std::vector<float> step_variance;  ///< of the difference to the line above; the first line's is 0
    /// The place by either edge alone, where both are sure; without edges the step by the picture's left and right part
    /// alone. Elsewhere not a number. What the two err by has nothing in common.
    std::vector<float> left_px, right_px;
    std::vector<float> pair_variance;  ///< of the place by either edge alone; empty without edges
    /// Without edges, once a few frames have been seen: how far each line lies off its mean over the last second, as
    /// against the other lines (`LineWander`); not a number where that isn't known. Else empty.
    std::vector<float> off_mean_px;

    std::size_t size() const { return place_px.size(); }
};

/// Puts evidence of places and of steps from line to line together.
///
/// Method: weighted least squares; the normal equations have three diagonals, so that one run down and one up give the
/// places, their variances and those of the steps. Exact for evidence whose errors are independent.
class LineChain {
public:
    /// @param places  weight 0 where there is none; at least one must have some
    /// @param steps   from the line above to this one; the first is not looked at. A weight of 0 breaks the chain, so
    ///                every step should have a little
    void solve(std::span<const LineEvidence> places, std::span<const LineEvidence> steps, PlacedLines& out);

private:
    std::vector<double> down_, side_;
};

}  // namespace guardband::measure
