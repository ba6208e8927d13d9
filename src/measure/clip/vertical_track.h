#pragma once

#include <vector>

#include "measure/features.h"

namespace guardband::measure {

/// Follows how far the picture has moved up or down, whatever its brightness does.
///
/// Method: rows are cut into 4 groups of samples, each taken as a share of its row, which removes all light that a row
/// has in common; what is left, without its slow course over the height, is laid over that of an earlier frame where it
/// fits best (normalised correlation of the top fields, to a part of a row by a parabola). A frame stays the earlier
/// one while it fits and until the picture has moved by half the range, so that errors don't add up frame by frame.
/// Scatter: about a tenth of a field row per such change. Follows up to 20 field rows per frame. Where nothing fits
/// (cuts, faster motion), it counts as no motion.
class VerticalTrack {
public:
    /// @param segments, rows  size of `FrameFeatures::segment_sums`
    VerticalTrack(int segments, int rows);

    /// The next frame. @returns how far the picture lies below where it was at first, in picture heights
    double see(const FrameFeatures& features);

private:
    void take_shares(const FrameFeatures& features);
    void remove_slow_course();
    void correlate();

    int segments_, rows_, range_;
    std::vector<float> shares_, reference_;            // group by group
    std::vector<double> running_;                      // sums of a group, for its slow course
    std::vector<double> squares_, reference_squares_;  // sums over all groups' rows before each, and over all
    std::vector<float> padded_, products_;
    std::vector<double> fit_;  // correlation by shift, from the farthest up
    bool has_reference_ = false;
    double reference_position_ = 0, position_ = 0;  // field rows
};

}  // namespace guardband::measure
