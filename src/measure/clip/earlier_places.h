#pragma once

#include <span>
#include <vector>

#include "measure/clip/field_shifts.h"
#include "measure/clip/line_chain.h"

namespace guardband::measure {

/// Where the lines of a scene at rest should lie by where they lay a frame ago, for fields whose edges place them.
///
/// Why: how far a line has gone since the frame before is seen to a few ns while the scene rests, better than where it
/// lies: so noise averages out over frames.
///
/// Method: the place a frame ago and how far the line's picture has gone since, less the scene's own movement, which is
/// the median of all cells of the field. Cells that go another way don't count. What the lines around agree to be off
/// by is taken out in part, as it may be the scene's: things that move on their own, a zoom.
///
/// Scatter of single lines about what they err by alike in all frames, edges of 140 to 300 ns at 40 dB: 2.8 ns, 4.3
/// without.
///
/// Not where the scene moves: what a line shows then comes from elsewhere, and slanting outlines, or things that go
/// another way, would add up from frame to frame to more than is won.
class EarlierPlaces {
public:
    void forget() { place_px_.clear(); }
    /// @param moved   the field's lines against those of the frame before, cell by cell
    /// @param now     by all other evidence
    /// @param rests   of each line, whether the scene is as it was
    /// @param places  evidence is added to these
    /// @returns whether any was
    bool add(const FieldShifts& moved, const PlacedLines& now, std::span<const char> rests,
             std::vector<LineEvidence>& places);
    /// For the next frame.
    void keep(const PlacedLines& lines) { place_px_ = lines.place_px, variance_ = lines.variance; }

private:
    void find_motion(const FieldShifts& moved, const PlacedLines& now, std::size_t end);
    void find_lines(const FieldShifts& moved, const PlacedLines& now, std::size_t end);
    void find_common(const PlacedLines& now);

    std::vector<float> place_px_, variance_;  ///< of the lines a frame ago
    float motion_px_ = 0;
    std::vector<ShiftMean> off_;  ///< of each line: how far it should lie off where it is taken to lie
    std::vector<float> common_, sums_, weights_, spare_;
};

}  // namespace guardband::measure
