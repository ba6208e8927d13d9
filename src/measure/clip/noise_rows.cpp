#include "measure/clip/noise_rows.h"

#include <algorithm>

namespace guardband::measure {
namespace {

/// Samples of a cell that count in `FieldTexture::spread` and `along`.
constexpr double spread_samples = 4.0 * CombEnergy::cell_samples, along_samples = 2.0 * CombEnergy::cell_samples;
/// Blocks of `FrameFeatures::change` in a cell, and its samples, twice as two fields have twice the variance of one.
constexpr int blocks = CombEnergy::cell_samples / FrameFeatures::segment;
constexpr double change_samples = 2.0 * CombEnergy::cell_samples * FrameFeatures::block_rows;
/// How unlike neighbouring rows are, 1 if they have nothing in common: of the row of cells, and of single cells of it.
constexpr double least_unlike = 0.8, least_unlike_cell = 0.6;
/// The same from above: rows of a fine pattern may have less than nothing in common.
constexpr double most_unlike = 1.35;
/// What is coarser than a segment and goes on from row to row, over what is finer: pictures have far more of it.
constexpr double most_coarse = 2;
/// Scatter of the cells' energies over their mean: noise of a width of eight samples gives 0.25.
constexpr double most_uneven = 0.5;
/// Cells of a row that must be noise; a caption or a mast doesn't reach through noise.
constexpr double least_width = 0.8;
/// Change from frame to frame, over what two independent fields of that variance have: where the frame before looked
/// like noise, too, and where a band may have come in since. Things that stay or creep change less.
constexpr double least_change = 0.85, least_change_of_new = 0.5;
/// Energy of a band over that of rows that are no band.
constexpr double stands_out = 4;

/// Codes of the clip to an 8-bit code.
double code_of(const FrameFeatures& features) { return static_cast<double>(features.histogram.size()) / 256; }

/// Variance of the segments' means along a row of cells that the rows of the field share with the next ones.
double coarse_picture(const FrameFeatures& features, std::size_t parity, int row) {
    const Grid<std::uint32_t>& sums = features.segment_sums;
    const int first = 2 * row * CombEnergy::cell_rows + static_cast<int>(parity);
    const double scale = 1.0 / (FrameFeatures::segment * FrameFeatures::segment);
    double shared = 0;
    for (int i = 0; i + 1 < CombEnergy::cell_rows; ++i) {
        double a = 0, b = 0, ab = 0;
        for (int x = 0; x < sums.width; ++x) {
            const double here = sums.at(x, first + 2 * i), below = sums.at(x, first + 2 * (i + 1));
            a += here, b += below, ab += here * below;
        }
        const double n = sums.width;
        shared += scale * (ab - a * b / n) / n / (CombEnergy::cell_rows - 1);
    }
    return shared;
}

/// What a row of cells is like, means over its cells.
struct RowLook {
    bool like_noise = false;  ///< by this field alone
    double spread = 0, change = 0;
};

/// @param usual  what rows that are no band have
RowLook look_at(const FrameFeatures& features, std::size_t parity, int row, double usual) {
    const FieldTexture& texture = features.texture[parity];
    const double least = strongest_tape_noise * strongest_tape_noise * code_of(features) * code_of(features);
    double spread = 0, squares = 0, along = 0, change = 0;
    int cells = 0;
    for (int x = 0; x < texture.spread.width; ++x) {
        const double s = static_cast<double>(texture.spread.at(x, row)) / spread_samples,
                     a = static_cast<double>(texture.along.at(x, row)) / (2 * along_samples);
        spread += s, squares += s * s, along += a;
        for (int block = x * blocks; block < (x + 1) * blocks; ++block)
            change += static_cast<double>(features.change[parity].at(block, row)) / change_samples;
        cells += s >= least / 2 && a >= least_unlike_cell * s ? 1 : 0;
    }
    const double width = texture.spread.width;
    const bool like_noise = cells >= least_width * width && spread >= least * width && along >= least_unlike * spread &&
                            along <= most_unlike * spread && along >= stands_out * usual * width &&
                            squares * width <= (1 + most_uneven * most_uneven) * spread * spread &&
                            coarse_picture(features, parity, row) * width <= most_coarse * spread;
    return {like_noise, spread / width, change / width};
}

}  // namespace

const std::vector<bool>& NoiseRows::find(const FrameFeatures& features, std::size_t parity) {
    const Grid<float>& along = features.texture[parity].along;
    const int rows = std::min(features.change[parity].height, along.height);
    noisy_.assign(static_cast<std::size_t>(std::max(0, features.change[parity].height)), false);
    strength_.assign(noisy_.size(), 0);
    if (!features.has_previous || along.width == 0 || rows == 0) return noisy_;
    unlike_.clear();
    for (int row = 0; row < rows; ++row) {
        double sum = 0;
        for (int x = 0; x < along.width; ++x) sum += static_cast<double>(along.at(x, row));
        unlike_.push_back(sum / (2 * along_samples * along.width));
    }
    std::ranges::copy(unlike_, strength_.begin());
    // Rows that are no band: the quietest quarter, where a band may cover half of the picture and more.
    const auto quarter = unlike_.begin() + static_cast<std::ptrdiff_t>(unlike_.size() / 4);
    std::ranges::nth_element(unlike_, quarter);
    const double loud = 4 * strongest_tape_noise * strongest_tape_noise * code_of(features) * code_of(features);
    // What is as loud all over the picture is no tape's noise any more.
    const double usual = *quarter > loud ? 0 : *quarter;
    for (double& one : strength_) one = std::max(0.0, one - usual);
    std::vector<bool>& before = like_noise_before_[parity];
    before.resize(noisy_.size());
    for (int row = 0; row < rows; ++row) {
        const auto r = static_cast<std::size_t>(row);
        const RowLook look = look_at(features, parity, row, usual);
        noisy_[r] = look.like_noise && look.change >= (before[r] ? least_change : least_change_of_new) * look.spread;
        before[r] = look.like_noise;
    }
    return noisy_;
}

}  // namespace guardband::measure
