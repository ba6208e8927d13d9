#pragma once

#include <array>
#include <span>
#include <vector>

#include "measure/clip/edge_rows.h"
#include "measure/clip/edge_shape.h"

namespace guardband::measure {

/// Places the edges of a scene at rest with less noise.
///
/// Why: the filter that errs least by the unknown picture under an edge lets twice as much noise through as one for a
/// flat picture. While the scene rests, what the latter is off by stays the same.
///
/// Method: the mean of what the two say apart, over the frames at rest, is taken out of what the second says. Leaves as
/// it is what the first errs by on average.
class RestingEdges {
public:
    /// @param lines  `rests` tells which edges; their places are changed
    void see(const EdgeRows& rows, int parity, const EdgeShape& shape, std::span<EdgeLine> lines);
    /// The filters have been made anew.
    void restart();

private:
    struct Apart {
        float px = 0;
        int frames = 0;
    };

    std::array<std::vector<std::array<Apart, 2>>, 2> apart_;  ///< by parity, line and side
};

}  // namespace guardband::measure
