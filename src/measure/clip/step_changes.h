#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "measure/clip/field_shifts.h"
#include "measure/clip/mean_square.h"

namespace guardband::measure {

/// Jitter from line to line where no edges place the lines: by how much each line's step from the line above changes
/// from one frame to the next.
///
/// Why: the picture of one field can't tell a step from outlines that slant. They slant alike in the next frame, or a
/// little further on, so that they drop out of the change.
///
/// Method: mean product of what the left and the right half of the line say of the change, whose errors have nothing
/// to do with each other; lines count by how sure the halves are, never by whether they agree. Where the picture goes
/// on in few lines, only those count whose detail is well above the noise: else it may be noise that goes on, by chance
/// or because a program took it from one table. A change holds the places of four lines, so that its mean square is
/// four times theirs. Some 10 000 lines are kept, evenly spread over the clip. Copies of the frame before don't count.
///
/// Bias: below 3 ns on photographs that are panned, zoomed, turned, swayed or stand still, also where all outlines
/// slant; up to 5 ns where hardly anything goes on from frame to frame; −3 % of jitter, −6 % where the scene moves
/// steeply. Can't tell: jitter that is the same in every frame.
class StepChanges {
public:
    /// One field. @param moved  each line against the frame before
    /// @param changes     of each line's step from the line above, cell by cell
    /// @param first, end  lines that count
    void see(const FieldShifts& moved, FieldShifts& changes, std::size_t first, std::size_t end);

    /// RMS, as `line_jitter_rms` has it; nothing where too few lines can tell.
    std::optional<Estimated> jitter_px() const;

private:
    struct Halves {
        float left = 0, right = 0;  ///< not numbers where not both are sure

        bool goes_on = false;   ///< more of the lines' detail is in the frame before than not
        bool detailed = false;  ///< and it is well above what most lines don't find there

        bool known() const { return left == left; }
    };

    float least_slopes(const FieldShifts& moved);
    void add(const Halves& one);

    std::vector<Halves> evidence() const;

    std::size_t seen_ = 0, every_ = 1;
    std::vector<Halves> lines_;
    std::vector<ShiftMean> left_, right_;
    std::vector<float> spare_;
};

}  // namespace guardband::measure
