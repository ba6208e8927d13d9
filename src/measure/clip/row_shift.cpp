#include "measure/clip/row_shift.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <numeric>

namespace guardband::measure {
namespace {

constexpr int cell = rows::shift_cell_samples;
/// What the fit leaves over is alike over some samples: so much more the variance. From rows of textured pictures.
constexpr float alike = 3;
/// Of the coding and of very clean pictures, squared units of the smoothed row per cell.
constexpr float rounding = cell * 0.5F;
/// A cell says something if its slopes are above this: 0.7 codes of 10 bits per sample.
constexpr float least_slopes = cell * 32.0F;
/// The same of fine detail.
constexpr float detail_alike = 4, least_detail_slopes = cell * 16.0F;
constexpr float nearest = 0.6F;  ///< samples from a whole shift within which its fit stands
constexpr int most_steps = 4, most_hope = 64;
/// Rows that differ by more than their shift by this many samples would make them, have another shift.
constexpr float most_misfit_px = 2;
/// Beyond it even a guess that is said to be near may be that of a false edge.
constexpr int most_trusted_px = 24;
constexpr int reduction = 4, reach = 96 / reduction;
constexpr float most_left = 0.4F;  ///< of the mean over all shifts, where a shift fits

}  // namespace

RowShifts::RowShifts(const media::PictureFormat& format)
    : format_(format), cells_(std::min(format.width / cell, CellShifts::most_cells)) {}

void RowShifts::filter(const media::Frame& frame, int y, FilteredRow& out) const {
    const auto width = static_cast<std::size_t>(format_.width);
    out.smooth.resize(width + 1), out.slope.resize(width + 1);
    const std::byte* row = frame.planes[0].row(y);
    if (format_.bit_depth == 8)
        narrow_.smooth_and_slope(reinterpret_cast<const std::uint8_t*>(row), format_.width, 8, out.smooth.data(),
                                 out.slope.data());
    else
        wide_.smooth_and_slope(reinterpret_cast<const std::uint16_t*>(row), format_.width, format_.bit_depth,
                               out.smooth.data(), out.slope.data());
    out.smooth[width] = out.smooth[width - 1], out.slope[width] = 0;
}

/// Cells lie at the same places of the row whatever the shift, so that they can be compared from line to line.
RowShifts::Overlap RowShifts::overlap(int shift) const {
    const int first = shift <= 0 ? 0 : (shift + cell - 1) / cell, lost = shift >= 0 ? 0 : (-shift + cell - 1) / cell;
    return {first, cells_ - first - lost};
}

/// The fit about a whole shift. @returns whether any cell says something
bool RowShifts::at(const FilteredRow& row, const FilteredRow& other, int shift, CellShifts& out) {
    const auto [first, count] = overlap(shift);
    out.cells = cells_;
    out.weight.fill(0);
    out.left = out.slopes = 0;
    if (count < 1) return false;
    const auto skip = static_cast<std::ptrdiff_t>(first) * cell;
    const rows::RowPair rows{row.smooth.data() + skip, row.slope.data() + skip, other.smooth.data() + skip - shift,
                             other.slope.data() + skip - shift};
    const rows::ShiftSums sums =
        kernels_.fit_cells(rows, count, static_cast<float>(shift), {least_slopes, rounding, alike},
                           out.samples.data() + first, out.weight.data() + first);
    out.left = sums.left, out.slopes = sums.slopes;
    if (sums.slopes <= 0) return false;
    constexpr float scale = rows::slope_scale / rows::smooth_scale;
    offset_ = -scale * sums.products / sums.slopes;
    misfit_px_ = scale * std::sqrt(sums.left / sums.slopes);
    return true;
}

/// The middle of the row, reduced, is laid over the other one at all places in reach.
std::optional<int> RowShifts::search(const FilteredRow& row, const FilteredRow& other) {
    constexpr int places = 2 * reach + 1, other_samples = cell + 2 * reach;
    const int first = (format_.width / reduction - cell) / 2;
    if (first < reach) return std::nullopt;
    reduced_.resize(cell), other_reduced_.resize(other_samples), misfits_.resize(places);
    kernels_.quarter(row.smooth.data() + first * reduction, cell, reduced_.data());
    kernels_.quarter(other.smooth.data() + (first - reach) * reduction, other_samples, other_reduced_.data());
    kernels_.misfits(reduced_.data(), other_reduced_.data(), places, misfits_.data());
    const auto least = std::ranges::min_element(misfits_);
    const float sum = std::accumulate(misfits_.begin(), misfits_.end(), 0.0F);
    if (*least > most_left * sum / places) return std::nullopt;
    // A row that lies to the right shows what the other one has further left.
    return (reach - static_cast<int>(least - misfits_.begin())) * reduction;
}

/// Searching pays where lines jump, and not where neighbouring lines show different things: after many searches in vain
/// only every eighth is made.
bool RowShifts::may_search() { return hope_ > 0 || ++skipped_ % 8 == 0; }

void RowShifts::compare(const FilteredRow& row, const FilteredRow& other, int& guess, bool trusted, CellShifts& out) {
    bool may = !trusted || std::abs(guess) > most_trusted_px, searched = false;
    for (int i = 0; i < most_steps; ++i) {
        if (!at(row, other, guess, out)) break;
        if (misfit_px_ > most_misfit_px && may && may_search()) {
            may = false, searched = true;
            const auto found = search(row, other);
            if (found && std::abs(*found - guess) > 2) {
                guess = *found;
                continue;
            }
        }
        if (std::abs(offset_) < nearest) break;
        guess += static_cast<int>(std::lround(std::clamp(offset_, -3.0F, 3.0F)));
    }
    if (searched) hope_ = std::clamp(hope_ + (misfit_px_ <= most_misfit_px ? 4 : -1), 0, most_hope);
}

void RowShifts::compare_detail(const FilteredRow& row, const FilteredRow& other, int guess, CellShifts& out) {
    const auto [first, count] = overlap(guess);
    if (count < 1) return;
    const auto skip = static_cast<std::ptrdiff_t>(first) * cell;
    const rows::RowPair rows{row.smooth.data() + skip, row.slope.data() + skip, other.smooth.data() + skip - guess,
                             other.slope.data() + skip - guess};
    kernels_.fit_changes(rows, count, static_cast<float>(guess), {least_detail_slopes, rounding, detail_alike},
                         by_detail_.samples.data(), by_detail_.weight.data());
    for (int i = 0; i < count; ++i) {
        const auto from = static_cast<std::size_t>(i), to = static_cast<std::size_t>(first + i);
        if (by_detail_.weight[from] > out.weight[to])
            out.weight[to] = by_detail_.weight[from], out.samples[to] = by_detail_.samples[from];
    }
}

}  // namespace guardband::measure
