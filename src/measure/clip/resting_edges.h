#pragma once

#include <array>
#include <span>
#include <vector>

#include "measure/clip/edge_rows.h"
#include "measure/clip/edge_shape.h"

namespace guardband::measure {

/// Places the edges of a scene at rest with less noise and nearer to the truth.
///
/// Why: the less a filter errs by the unknown picture under an edge, the more noise it lets through. While the scene
/// rests noise averages out, and what a filter for a flat picture, which lets least through, is off by stays the same.
///
/// Method: the mean of what a filter that errs little by the picture and one for a flat picture say apart, over the
/// frames at rest, is taken out of what the second says. Edges of 300 ns then err by 14 ns instead of 17 in the mean of
/// many frames: what the picture does under them can't be told apart from their place.
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
