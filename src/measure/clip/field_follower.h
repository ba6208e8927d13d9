#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "measure/features.h"
#include "rows/shift_kernels.h"

namespace guardband::measure {

/// How far one field lies below another of the same parity, field rows: by all of the picture, and by its left and its
/// right part alone, which err by different things.
struct VerticalShift {
    double rows = 0, left_rows = 0, right_rows = 0;
    double variance = 0;  ///< of `rows`, where it stands for both parts because one shows too little; else 0
};

/// Follows the vertical place of one parity's fields to a small part of a row.
///
/// Method: rows reduced to sums over 32 samples, smoothed and differentiated down the field by five taps each; least
/// squares for the movement down and along the rows in each of 132 pieces of the picture, about a whole number of rows
/// up to ±12; the median of the pieces, so that things which move on their own don't count.
class FieldFollower {
public:
    /// The next field's shift against the one before; nothing in the first, at cuts and where no piece shows detail.
    std::optional<VerticalShift> see(const FrameFeatures& features, std::size_t parity);

    /// The next field, of which nothing is asked but to be the one before.
    void take(const FrameFeatures& features, std::size_t parity);

    /// Of the pieces in which it makes a difference by which of two shifts this field lies below the one before, the
    /// share that the first fits far better; 0 if there are few such pieces.
    double share_for(double rows, double other_rows) const;

    /// Slopes down the field, 8-bit codes, row by row, of the field seen last and the one before.
    std::span<const float> slopes() const { return {now_.slope.data(), now_.size}; }
    std::span<const float> slopes_before() const { return {before_.slope.data(), before_.size}; }
    int columns() const { return columns_; }

private:
    /// A field's sums, row by row, and some zeros behind them.
    struct Filtered {
        std::size_t size = 0;
        std::vector<float> smooth, slope;
    };

    void filter(const FrameFeatures& features, std::size_t parity);
    std::optional<VerticalShift> shift_about(int whole);
    void take_pieces(const rows::MovementSums& sums, int rows);
    float mean_difference(int whole) const;
    double misfit(int piece, double rows) const;

    double code_ = 1;  ///< codes of the clip per code of 8 bits
    int columns_ = 0, rows_ = 0;
    std::vector<float> reduced_, sums_;
    Filtered now_, before_;
    std::vector<double> pieces_;                  ///< of the whole picture
    std::array<std::vector<double>, 2> of_part_;  ///< of its left and right part
};

}  // namespace guardband::measure
