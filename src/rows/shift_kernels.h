#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

namespace guardband::rows {

/// Samples in a cell of two rows that is laid over each other by itself.
inline constexpr int shift_cell_samples = 80;
/// Cells are worked on in groups of so many: arrays hold whole groups behind any cell they begin at.
inline constexpr int shift_cell_group = 4;
/// More cells than this a row need not have.
inline constexpr int most_shift_cells = 24;
/// Lines are worked on in groups of so many, `LinesOfCells` likewise.
inline constexpr std::size_t shift_line_group = 16;

/// Two rows that `smooth_and_slope` made; the other one is read from where it is to be laid.
struct RowPair {
    const std::int16_t *smooth, *slope, *other_smooth, *other_slope;
};

/// What cells are judged by; units are those of the rows' smoothed samples and slopes.
struct ShiftRules {
    float least_slopes;  ///< sum of a cell's squared slopes below which it says nothing
    float rounding;      ///< added to a cell's squares that the fit leaves over
    float alike;         ///< what is left over is alike over so many samples: so much more the variance
};

/// Over all cells that say something: squares that the fits leave over, squared slopes, slopes times differences.
struct ShiftSums {
    float left = 0, slopes = 0, products = 0;
};

/// Values of the cells of many lines, with their weights: cell c of line l stands at [c · stride + l]. There are lines
/// up to the next whole group; the values of those too many are finite.
struct LinesOfCells {
    const float *values, *weights;
    std::size_t stride;
    int cells;
    std::size_t lines;
};

/// Sums over a column of a piece of a field against another field, for least squares on a movement down and along:
/// d the mean slope of both down the columns, a that along the rows, c by how much the field lies above the other.
struct MovementSums {
    float *down_squares, *products, *along_squares, *down_change, *along_change;  ///< Σ d², d a, a², d c, a c
};

/// Two fields of numbers, each with its slope down the columns, from the first row that counts; `stride` numbers from
/// row to row.
struct FieldPair {
    const float *field, *slope, *other, *other_slope;
    std::size_t stride;
};

/// What is done to find how far rows and fields have moved. The fast version takes sums of floats in another order: the
/// two agree to rounding. Rows need no alignment.
struct ShiftKernels {
    /// By how much a row lies to the right of the other beyond a whole number of samples, cell by cell: least squares
    /// on the mean slope of both, brightness that differs by a constant aside. Writes `whole` and the rest, and the
    /// weights (1 / variance); weight 0 and any finite shift where a cell says nothing. Cells up to the next whole
    /// group get the weight 0.
    /// @returns the sums over all cells
    ShiftSums (*fit_cells)(const RowPair& rows, int cells, float whole, const ShiftRules& rules, float* shifts,
                           float* weights);

    /// The same of the rows' changes from each sample to the next, and of those of their slopes: fine detail counts for
    /// more. The cells' last samples need one more behind them; rows as smooth as `smooth_and_slope` leaves them.
    ShiftSums (*fit_changes)(const RowPair& rows, int cells, float whole, const ShiftRules& rules, float* shifts,
                             float* weights);

    /// Mean of each line's cells, those that disagree with most counting less: the values' own weights, capped at
    /// 1 / `spread`, are lessened by (1 + off² weight / 4)² until the mean rests within 0.01 or has been taken three
    /// times. Both 0 where no cell has weight. Lines up to the next whole group are written too.
    void (*means_of_lines)(const LinesOfCells& in, float spread, float* means, float* weights);

    /// out[i] = (in[4 i] + … + in[4 i + 3]) / 4, rounded down, for 0 ≤ i < count. Samples of 13 bits and sign.
    void (*quarter)(const std::int16_t* in, int count, std::int16_t* out);

    /// How badly a cell fits others: out[j] = Σ d² − (Σ d)² / n of d = row[k] − other[k + j], 0 ≤ k < n =
    /// `shift_cell_samples`, for 0 ≤ j < places. Samples from 0 to 4095.
    void (*misfits)(const std::int16_t* row, const std::int16_t* other, int places, float* out);

    /// Sums over each of `columns` columns of `rows` rows. A column more is read on either side of the fields
    /// themselves, and of either up to the next whole group of 16; so many columns are written.
    void (*movement_sums)(const FieldPair& in, int rows, int columns, const MovementSums& out);
};

/// Written for the reader; the truth that the fast version is tested against.
const ShiftKernels& plain_shift_kernels();

/// Chosen at the first call for the processor that runs it.
const ShiftKernels& fast_shift_kernels();

struct NamedShiftKernels {
    std::string target;  ///< kind of processor, e.g. `AVX2`
    const ShiftKernels* kernels;
};

/// The fast versions that this processor can run, for tests: not only the one that would be chosen.
std::vector<NamedShiftKernels> fast_shift_kernels_of_each_target();

}  // namespace guardband::rows
