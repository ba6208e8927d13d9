#pragma once

#include <vector>

#include "measure/clip/picture_edges.h"

namespace guardband::measure {

/// Lessens what edges weigh over stretches of lines in which all are little sure.
///
/// Why: where something dark stands at one edge and an outline under the other, the edges of some sixty lines err
/// alike, by 50 to 100 ns. Each says to be little sure, but together they outweigh the steps from line to line across
/// the stretch, which are good to 30 ns there.
///
/// Method: where the mean weight of the lines around a line is below that of an edge of 60 ns, its own is divided by
/// 20. Not after the head switch, where lines are few, nor where most lines of a field are so: then the edges are all
/// there is.
class WeakStretches {
public:
    /// @param places  by the edges of one field's lines, weight 0 where there is none
    void lessen(std::vector<LineEvidence>& places);

private:
    std::vector<double> sums_;  ///< of the weights of all lines before
    std::vector<std::size_t> weak_;
};

}  // namespace guardband::measure
