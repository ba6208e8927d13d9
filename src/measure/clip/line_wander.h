#pragma once

#include <algorithm>
#include <vector>

#include "measure/clip/field_shifts.h"
#include "measure/clip/line_chain.h"

namespace guardband::measure {

/// How far the lines of one parity lie off where they were on average lately, where no edge places them: random places
/// of lines, and what changes slowly down the field but from field to field, such as a sine that runs through it.
///
/// Method: how far each line's picture has gone since the frame before, less the median over all lines, which is the
/// scene's; that, and by how much it differs from the line above, cell by cell, go through a `LineChain`. The changes
/// are summed up and the mean of the last 25 frames is taken out. Only lines count whose cells move alike: the others
/// show things that move on their own. Scatter: 3 to 5 ns at 40 dB, on textured pictures that move sideways.
///
/// Can't tell: what is the same in every field, what is slower than a second, and the field as a whole; a part of the
/// scene as wide as the picture that moves on its own. Where the scene moves up or down few lines can be told, and what
/// slants in it adds up to 40 ns, so that what it gives is an upper bound.
class LineWander {
public:
    /// From how many frames a mean is made before anything is given.
    static constexpr int fewest_frames = 6;

    /// @param moved    each line's picture against the frame before, cell by cell
    /// @param changed  of each line, the mean of what each cell of that is off the cell above
    void see(FieldShifts& moved, const std::vector<ShiftMean>& changed);
    /// How far each line lies off its mean, samples; not a number where that isn't known.
    void give(std::vector<float>& out) const;
    void restart() { std::ranges::fill(frames_, 0); }

private:
    void begin(std::size_t lines);
    void find_agreeing(const FieldShifts& moved);
    void sum_up();

    LineChain chain_;
    PlacedLines changes_;
    std::vector<LineEvidence> moved_, steps_;
    std::vector<ShiftMean> means_;
    std::vector<float> agreeing_, seen_;  ///< cells of each line that move as its mean; that have detail
    std::vector<float> off_px_, variance_, spare_;
    std::vector<int> frames_;
};

}  // namespace guardband::measure
