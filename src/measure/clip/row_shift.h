#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include "media/clip.h"
#include "rows/kernels.h"
#include "rows/shift_kernels.h"

namespace guardband::measure {

/// A row of luma as `smooth_and_slope` leaves it, and behind it its last sample once more, without slope.
struct FilteredRow {
    std::vector<std::int16_t> smooth, slope;
};

/// By how much each cell of one row lies to the right of what another row shows there.
struct CellShifts {
    static constexpr int most_cells = rows::most_shift_cells;
    static constexpr std::size_t size = most_cells + rows::shift_cell_group;

    int cells = 0;
    std::array<float, size> samples{};
    std::array<float, size> weight{};  ///< 1 / variance, as what the fit leaves over says; 0 where nothing is seen
    /// Over all cells that are seen: squares that the fits leave over, and squared slopes; units of the filtered rows.
    float left = 0, slopes = 0;
};

/// Finds by how much one row lies to the right of another.
///
/// Method: least squares on the mean slope of both rows, cell by cell of 80 samples, about a whole number of samples
/// that is improved until the rest is below 0.6 samples; where the rows don't fit there, the middle of both, reduced to
/// a quarter of the samples, is laid over each other within ±96 samples for a new start. Brightness that differs by a
/// constant within a cell drops out. Bias: 2 % of the rest, 0.01 samples at most, where the rows show the same picture
/// up to 2.7 MHz.
class RowShifts {
public:
    explicit RowShifts(const media::PictureFormat& format);

    int cells() const { return cells_; }
    /// Rows must live no longer than this object.
    void filter(const media::Frame& frame, int y, FilteredRow& out) const;

    /// @param guess    of the shift; improved on return
    /// @param trusted  the guess is near: no search
    /// @param out      shifts with the guess's whole samples included
    void compare(const FilteredRow& row, const FilteredRow& other, int& guess, bool trusted, CellShifts& out);

    /// Once more by fine detail, how the rows change from sample to sample, where that says more than what `compare`
    /// found. What differs from row to row is large things that slant and grow rather than fine ones, so that this errs
    /// half as much between neighbouring lines.
    void compare_detail(const FilteredRow& row, const FilteredRow& other, int guess, CellShifts& out);

private:
    /// Cells whose samples stand in both rows for a shift: so many, from this one on.
    struct Overlap {
        int first = 0, count = 0;
    };
    Overlap overlap(int shift) const;
    bool at(const FilteredRow& row, const FilteredRow& other, int shift, CellShifts& out);
    bool may_search();
    std::optional<int> search(const FilteredRow& row, const FilteredRow& other);

    media::PictureFormat format_;
    const rows::Kernels<std::uint8_t>& narrow_ = rows::fast_kernels<std::uint8_t>();
    const rows::Kernels<std::uint16_t>& wide_ = rows::fast_kernels<std::uint16_t>();
    const rows::ShiftKernels& kernels_ = rows::fast_shift_kernels();
    int cells_;
    int hope_ = 64, skipped_ = 0;
    float offset_ = 0, misfit_px_ = 0;  ///< of the latest comparison
    std::vector<std::int16_t> reduced_, other_reduced_;
    CellShifts by_detail_;
    std::vector<float> misfits_;  ///< by place of the other row
};

}  // namespace guardband::measure
