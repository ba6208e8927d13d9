#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "measure/clip/picture_edges.h"

namespace guardband::measure {

/// Takes out what contradicts the rest where the picture's edges and the picture's own steps from line to line don't go
/// together.
///
/// Why: behind something black at the picture's edge the first outline found is that of its other side, in dozens of
/// lines alike; and a line may be laid over the one above at the wrong place. Either is false by many samples, and
/// states to be sure.
///
/// Method: of all ways to keep some of the edges, one of a line, the cheapest, found line by line (dynamic
/// programming). Leaving an edge out costs, one whose line shows both edges more. Two kept ones that follow each other
/// and lie further apart than the steps between them say cost by how much; at most what it costs to take these steps
/// for false, which is the dearer the further the edges jump beyond what the steps do, except at the top and after the
/// head switch, where lines jump. Steps that aren't known contradict nothing.
///
/// Can't tell: an outline that goes along the whole field.
class EdgeConsensus {
public:
    /// @param pairs   one per line; not a number where a line doesn't show both edges
    /// @param others  by the edge of each line that wasn't taken, where it says something else; else of weight 0
    /// @param places  by the edges; the weight of those left out becomes 0
    /// @param steps   from the line above; those taken for false become `unknown`
    void settle(std::span<const float> pairs, std::span<const LineEvidence> others, std::vector<LineEvidence>& places,
                std::vector<LineEvidence>& steps, const LineEvidence& unknown);

private:
    struct Edge {
        std::size_t line = 0;
        LineEvidence place;
        float cost_in = 0;    ///< of taking it, for the other edge of its line
        float cost_out = 0;   ///< of leaving its line out
        double steps_px = 0;  ///< sum from the first line
        double steps_variance = 0;
        int unknown_steps = 0;   ///< up to here
        float out_before = 0;    ///< cost of leaving all lines before it out
        float cost = 0;          ///< of the best way that ends with this one
        std::size_t before = 0;  ///< the edge kept before it on that way, counted from 1; 0: none
    };

    void gather(std::span<const float> pairs, std::span<const LineEvidence> others,
                std::span<const LineEvidence> places, std::span<const LineEvidence> steps);
    float over(const Edge& above, const Edge& edge) const;
    float cost_of_jump(const Edge& above, const Edge& edge, bool& is_break) const;
    bool all_agree() const;
    void find_ways();
    std::size_t last_of_best_way() const;

    std::vector<Edge> edges_;
    std::size_t lines_ = 0;
};

}  // namespace guardband::measure
