#pragma once

#include <cstddef>
#include <vector>

#include "measure/clip/edge_rows.h"

namespace guardband::measure {

/// Raises the variance of edges under which something of the picture stands that shifts them.
///
/// Why: how sure an edge is follows from how lively the picture behind it is. Where the outline of a white board comes
/// out under an edge all behind is flat: such edges said 3 ns and were 30 to 120 ns off, over all lines of the board.
///
/// Method: `EdgeFilter::strain`, averaged over the lines around, as an outline goes on from line to line. Up to what
/// noise leaves, and up to what most lines of the field show, as where the rise isn't quite that of the filters,
/// nothing is raised.
///
/// Lines in the zone of the head switch are left as they are.
///
/// Can't tell: an outline along more than half of the field's lines, and how far an edge is off.
class EdgeDoubt {
public:
    /// Of one field's edges as found.
    void see(std::vector<EdgeLine>& lines);
    /// Of those that have been placed again since with what was remembered of the picture.
    void see_foreseen(std::vector<EdgeLine>& lines);

private:
    float limit(const std::vector<EdgeLine>& lines, std::size_t side);
    void raise(std::vector<EdgeLine>& lines, std::size_t side, bool foreseen_only);
    void average(const std::vector<EdgeLine>& lines, std::size_t side);

    std::vector<float> averages_;  ///< strain, of each line and those around
    std::vector<float> spare_;
};

}  // namespace guardband::measure
