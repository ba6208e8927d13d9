#pragma once

#include <cstddef>
#include <limits>
#include <vector>

#include "measure/clip/row_shift.h"

namespace guardband::measure {

/// What the cells of a line say together; a weight of 0 where none says anything.
struct ShiftMean {
    float samples = 0, weight = 0;  ///< 1 / variance
};

/// The shifts of the cells of all lines of a field, kept cell by cell so that many lines can be worked on at a time.
class FieldShifts {
public:
    /// For so many lines, of which nothing is known yet.
    void begin(int cells, std::size_t lines);
    void put(std::size_t line, const CellShifts& shifts);
    /// By how much the shift of each cell is off that of the line above, where both say something.
    void differences(FieldShifts& out) const;

    /// Means of some of each line's cells, those that disagree with most counting less.
    /// @param systematic  variance by which cells differ whatever the noise, squared samples
    /// @param first, end  cells that count
    void means(float systematic, std::vector<ShiftMean>& out, int first = 0, int end = std::numeric_limits<int>::max());

    /// Of each line, the squares that its fits leave over, and its squared slopes, as `CellShifts` has them.
    const std::vector<float>& left() const { return left_; }
    const std::vector<float>& slopes() const { return slopes_; }

    int cells() const { return cells_; }
    std::size_t lines() const { return lines_; }
    /// Of all lines, those up to `padded_lines` included.
    const float* samples(int cell) const { return samples_.data() + at(cell); }
    const float* weights(int cell) const { return weights_.data() + at(cell); }
    /// Up to a whole group; beyond `lines` nothing is known.
    std::size_t padded_lines() const { return stride_; }

private:
    std::size_t at(int cell) const { return static_cast<std::size_t>(cell) * stride_; }

    int cells_ = 0;
    std::size_t lines_ = 0, stride_ = 0;
    std::vector<float> samples_, weights_;
    std::vector<float> left_, slopes_, mean_, mean_weight_;
};

}  // namespace guardband::measure
