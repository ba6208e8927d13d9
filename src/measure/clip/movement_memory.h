#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include "measure/clip/profile_shift.h"
#include "measure/features.h"

namespace guardband::measure {

/// Remembers how the last fields of one parity look, summed up along their columns and rows, to say whether what moved
/// before some moment moved on after it or came back.
///
/// Method: the shift of each piece of the picture, across and along it, by `ProfileMatcher`; the sum over all pieces of
/// the products of their two shifts, over the root of the product of the sums of squares: 1 where each piece goes on as
/// before, -1 where each goes back. Pieces that can't be followed don't count,
/// and those that move far more than most count for less.
class MovementMemory {
public:
    /// Remembers a field. @param position  rising by one
    void keep(const FrameFeatures& features, Parity parity, std::int64_t position);

    /// Likeness of the movement to the field `first` from the one before it and that to `second`, -1 to 1. Nothing if
    /// fewer than three pieces can be followed in both, or a field is no longer remembered.
    std::optional<double> likeness(std::int64_t first, std::int64_t second);

    /// How far what moves to the fields `first` and `second` goes on moving to the field `between`, over the lesser of
    /// those two movements; the median over the pieces. 0 where it is no more than the error of what was measured, or
    /// fewer than three pieces can be followed in all three.
    double rest(std::int64_t first, std::int64_t between, std::int64_t second);

private:
    static constexpr std::int64_t size = 16;

    struct Sketch {
        std::int64_t position = -1;
        int bands = 0;               ///< rows of `columns`
        std::vector<float> columns;  ///< mean of each column of each band of rows
        std::vector<float> rows;     ///< mean of each row of each strip of columns
    };
    using Shifts = std::vector<std::optional<ProfileShift>>;  ///< of the pieces; along the picture in frame lines

    const Sketch& at(std::int64_t position) const { return sketches_[static_cast<std::size_t>(position % size)]; }
    bool holds(std::int64_t position) const { return position >= 0 && at(position).position == position; }
    bool follow(std::int64_t position, Shifts& shifts);

    std::array<Sketch, static_cast<std::size_t>(size)> sketches_;
    ProfileMatcher across_{72}, along_{32};
    std::vector<float> before_, now_;
    Shifts first_, between_, second_;
};

}  // namespace guardband::measure
