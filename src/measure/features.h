#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <vector>

#include "media/clip.h"

namespace guardband::measure {

/// The two fields of a frame by their place in it: Top holds the frame's rows 0, 2, 4 …, Bottom 1, 3, 5 …
enum class Parity { Top = 0, Bottom = 1 };

/// A small picture of sums, row by row. `at(x, y)`.
template <typename T>
struct Grid {
    int width = 0, height = 0;
    std::vector<T> cells;

    void reset(int new_width, int new_height) {
        width = new_width, height = new_height;
        cells.assign(static_cast<std::size_t>(width) * static_cast<std::size_t>(height), T{});
    }
    T& at(int x, int y) {
        return cells[static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x)];
    }
    const T& at(int x, int y) const {
        return cells[static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x)];
    }
};

/// How strongly two fields comb when they are woven. For each row r of the bottom field between the rows a, b of the
/// top field around it the comb signal is 2 r − a − b. Its energy is taken cell by cell, after what each row's cell has
/// in common with the picture itself (its mean and its share of 2 r + a + b) has been taken out: a field that is
/// brighter or dimmer than the other, as with flicker and fades, doesn't count.
struct CombEnergy {
    static constexpr int cell_samples = 80;  ///< width of a cell; what is left over at the right edge is not counted
    static constexpr int cell_rows =
        8;  ///< rows of the bottom field in a cell; rows left over at the bottom are not counted

    Grid<float> cells;  ///< energy of each cell, in squared codes
    double energy = 0;  ///< sum of the cells
    std::int64_t samples = 0;
};

/// How fine the picture of one field is, in cells as those of `CombEnergy` (80 samples by 8 rows of the field), from
/// two pairs of successive rows in each. In squared codes, summed over the samples; the mean of each segment of 16
/// samples doesn't count in `spread` and `along`.
struct FieldTexture {
    static constexpr int first_of_pair = 1, pair_step = 4;  ///< rows of the cell that begin a pair: 1 and 5

    Grid<float> across;  ///< squared differences of samples beside each other, of the lower row of each pair
    Grid<float> along;   ///< squared differences of the two rows of a pair
    Grid<float> spread;  ///< squares, of both rows; rows that have nothing in common make `along` as large
};

/// What every measurement of a clip needs to know of a frame, gathered in one walk over its rows while they are in
/// cache. Sums are of luma codes at the clip's own bit depth.
struct FrameFeatures {
    static constexpr int segment =
        16;  ///< samples in a segment of a row; what is left over at the right edge is not summed
    static constexpr int block_rows = 8;  ///< rows of a field in a block; rows left over at the bottom are not summed
    static constexpr int column_rows =
        48;  ///< rows of a field in a band of column sums; rows left over at the bottom are not summed
    static constexpr int histogram_step =
        4;  ///< every fourth row of the frame counts in the histogram (offset moves from frame to frame)

    /// Per frame row and segment: sum of the luma codes. `width / 16` × `height`.
    Grid<std::uint32_t> segment_sums;

    /// Per frame row and segment: sum of the squared differences to the row above in the same field; 0 in the first row
    /// of either field. `width / 16` × `height`.
    Grid<std::uint32_t> line_change;

    /// Per parity: sum of each column over a band of 48 rows of the field. `width` × `field rows / 48`, at least one
    /// band.
    std::array<Grid<std::uint32_t>, 2> column_sums;

    /// Per parity: sum over each 16 × 8 block of the field of the squared difference to the same field of the frame
    /// before. `width / 16` × `field rows / 8`. Empty grids in the first frame.
    std::array<Grid<std::uint32_t>, 2> change;
    /// Per parity: as `change`, but to the same field two frames before, and over every fourth row of the field only,
    /// so a quarter of the sum. Noise makes it as large as `change`, motion larger. Empty grids in the first two
    /// frames.
    std::array<Grid<std::uint32_t>, 2> change_over_two;
    static constexpr int over_two_step =
        4;  ///< rows of the field from one that counts in `change_over_two` to the next
    /// Per parity: change from the frame before as in `change`, but in cells as those of `CombEnergy`, over every
    /// second row of the field, and without what a change of brightness explains (each row's mean and its share of the
    /// picture). `width / 80` × `field rows / 8`.
    std::array<Grid<float>, 2> steady_change;
    static constexpr int steady_step = 2;  ///< rows of the field from one that counts in `steady_change` to the next
    /// Per parity: the field is equal to that of the frame before, sample for sample (luma).
    std::array<bool, 2> identical{false, false};

    /// Combing of this frame's own two fields; of this frame's top field with the bottom field of the frame before; and
    /// of this frame's bottom field with the top field of the frame before. The last two have no cells and no samples
    /// in the first frame.
    CombEnergy own, top_with_previous_bottom, bottom_with_previous_top;

    /// Per parity.
    std::array<FieldTexture, 2> texture;

    /// How many samples of the rows that were counted have each code; `2^bit_depth` entries.
    std::vector<std::uint32_t> histogram;

    bool has_previous = false;
    bool has_two_previous = false;
};

/// Computes the features of one frame after another; holds on to the two frames before.
class FeatureExtractor {
public:
    explicit FeatureExtractor(const media::PictureFormat& format);
    ~FeatureExtractor();

    /// @returns features of `frame`, valid until the next call
    /// @throws DomainError if the frame's format is not the one given to the constructor
    const FrameFeatures& extract(const media::Frame& frame);

private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace guardband::measure
