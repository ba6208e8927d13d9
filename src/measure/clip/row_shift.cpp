#include "measure/clip/row_shift.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace guardband::measure {
namespace {

constexpr int cell = rows::shift_cell_samples;
/// What the fit leaves over is alike over some samples: so much more the variance. From rows of textured pictures.
constexpr float alike = 3;
/// Of the coding and of very clean pictures, squared units of the smoothed row per cell.
constexpr float rounding = cell * 0.5F;
/// A cell says something if its slopes are above this: 0.7 codes of 10 bits per sample.
constexpr float least_slopes = cell * 32.0F;
constexpr float nearest = 0.6F;  ///< samples from a whole shift within which its fit stands
constexpr int most_steps = 4, most_hope = 64;
/// Rows that differ by more than their shift by this many samples would make them, have another shift.
constexpr float most_misfit_px = 2;
constexpr int reduction = 4, reach = 96 / reduction;
constexpr float most_left = 0.4F;  ///< of the mean over all shifts, where a shift fits

}  // namespace

/// Mean of some cells by how sure they are (1 / variance; 0 where one doesn't count) and how near to a middle. Four
/// cells at once, which the compiler turns into vectors. @param first, end  multiples of `lanes`
CellShifts::Mean CellShifts::round(const Values& sure, float middle, std::size_t first, std::size_t end) const {
    Values own;
    for (std::size_t c = first; c < end; ++c) {
        const float off = samples[c] - middle, fit = 1 / (1 + off * off * sure[c] / 4);
        own[c] = fit * fit * sure[c];
    }
    std::array<float, lanes> sums{}, weights{};
    for (std::size_t c = first; c < end; c += lanes)
        for (std::size_t k = 0; k < lanes; ++k) {
            sums[k] += own[c + k] * samples[c + k];
            weights[k] += own[c + k];
        }
    const float all = weights[0] + weights[1] + weights[2] + weights[3];
    return all > 0 ? Mean{(sums[0] + sums[1] + sums[2] + sums[3]) / all, all} : Mean{};
}

CellShifts::Mean CellShifts::mean(float systematic, int first, int end) const {
    constexpr int most_rounds = 3;
    constexpr float at_rest_px = 0.01F;
    const auto from = static_cast<std::size_t>(first), to = static_cast<std::size_t>(std::min(end, cells));
    const std::size_t begin = from / lanes * lanes, padded = (to + lanes - 1) / lanes * lanes;
    Values sure;
    for (std::size_t c = begin; c < padded; ++c) sure[c] = weight[c] / (1 + systematic * weight[c]);
    for (std::size_t c = begin; c < from; ++c) sure[c] = 0;
    for (std::size_t c = to; c < padded; ++c) sure[c] = 0;
    float sum = 0, weights = 0;
    for (std::size_t c = from; c < to; ++c) {
        const float root = std::sqrt(sure[c]);  // at first none may rule alone
        sum += root * samples[c], weights += root;
    }
    if (weights <= 0) return {};
    Mean mean{sum / weights, weights};
    for (int i = 0; i < most_rounds; ++i) {
        const float before = mean.samples;
        mean = round(sure, before, begin, padded);
        if (std::abs(mean.samples - before) < at_rest_px) break;
    }
    return mean;
}

RowShifts::RowShifts(const media::PictureFormat& format)
    : format_(format), cells_(std::min(format.width / cell, CellShifts::most_cells)) {}

void RowShifts::filter(const media::Frame& frame, int y, FilteredRow& out) const {
    const auto width = static_cast<std::size_t>(format_.width);
    out.smooth.resize(width), out.slope.resize(width);
    const std::byte* row = frame.planes[0].row(y);
    if (format_.bit_depth == 8)
        narrow_.smooth_and_slope(reinterpret_cast<const std::uint8_t*>(row), format_.width, 8, out.smooth.data(),
                                 out.slope.data());
    else
        wide_.smooth_and_slope(reinterpret_cast<const std::uint16_t*>(row), format_.width, format_.bit_depth,
                               out.smooth.data(), out.slope.data());
}

/// The fit about a whole shift. @returns whether any cell says something
bool RowShifts::at(const FilteredRow& row, const FilteredRow& other, int shift, CellShifts& out) {
    // Cells lie at the same places of the row whatever the shift, so that they can be compared from line to line.
    const int first = shift <= 0 ? 0 : (shift + cell - 1) / cell, lost = shift >= 0 ? 0 : (-shift + cell - 1) / cell;
    const int count = cells_ - first - lost;
    out.cells = cells_;
    out.weight.fill(0);
    if (count < 1) return false;
    const auto skip = static_cast<std::ptrdiff_t>(first) * cell;
    wide_.shift_moments(row.smooth.data() + skip, row.slope.data() + skip, other.smooth.data() + skip - shift,
                        other.slope.data() + skip - shift, count, moments_.data());
    float left_sum = 0, slopes_sum = 0, products_sum = 0;
    for (int c = 0; c < count; ++c) {
        const auto& m = moments_[static_cast<std::size_t>(c)];
        const auto difference = static_cast<float>(m.difference), slope = static_cast<float>(m.slope);
        const float products = static_cast<float>(m.products) - difference * slope / cell;
        const float slopes = static_cast<float>(m.slope_squares) - slope * slope / cell;
        const float squares = static_cast<float>(m.difference_squares) - difference * difference / cell;
        const auto place = static_cast<std::size_t>(first + c);
        if (slopes < least_slopes) continue;
        // A row that lies to the right by t differs by −t times the slope.
        constexpr float scale = rows::slope_scale / rows::smooth_scale;
        out.samples[place] = static_cast<float>(shift) - scale * products / slopes;
        const float left = std::max(squares - products * products / slopes, 0.0F) + rounding;
        out.weight[place] = slopes * cell / (scale * scale * alike * left);
        left_sum += left, slopes_sum += slopes, products_sum += products;
    }
    if (slopes_sum <= 0) return false;
    constexpr float scale = rows::slope_scale / rows::smooth_scale;
    offset_ = -scale * products_sum / slopes_sum;
    misfit_px_ = scale * std::sqrt(left_sum / slopes_sum);
    return true;
}

std::optional<int> RowShifts::search(const FilteredRow& row, const FilteredRow& other) {
    // The middle of the row, reduced, against the other row reduced and moved.
    const int count = format_.width / reduction, first = (count - cell) / 2;
    if (first < reach) return std::nullopt;
    const auto reduce = [count](const FilteredRow& from, FilteredRow& to) {
        to.smooth.resize(static_cast<std::size_t>(count));
        to.slope.assign(static_cast<std::size_t>(count), 0);
        const std::int16_t* in = from.smooth.data();
        for (int i = 0; i < count; ++i, in += reduction)
            to.smooth[static_cast<std::size_t>(i)] =
                static_cast<std::int16_t>((in[0] + in[1] + in[2] + in[3]) / reduction);
    };
    reduce(row, reduced_);
    reduce(other, other_reduced_);
    float least = 0, sum = 0;
    int best_shift = 0;
    for (int shift = -reach; shift <= reach; ++shift) {
        rows::ShiftMoments m;
        wide_.shift_moments(reduced_.smooth.data() + first, reduced_.slope.data() + first,
                            other_reduced_.smooth.data() + first - shift, other_reduced_.slope.data() + first - shift,
                            1, &m);
        const auto difference = static_cast<float>(m.difference);
        const float squares = static_cast<float>(m.difference_squares) - difference * difference / cell;
        sum += squares;
        if (shift == -reach || squares < least) least = squares, best_shift = shift;
    }
    if (least > most_left * sum / (2 * reach + 1)) return std::nullopt;
    return best_shift * reduction;
}

/// Searching pays where lines jump, and not where neighbouring lines show different things: after many searches in vain
/// only every eighth is made.
bool RowShifts::may_search() { return hope_ > 0 || ++skipped_ % 8 == 0; }

void RowShifts::compare(const FilteredRow& row, const FilteredRow& other, int& guess, bool trusted, CellShifts& out) {
    bool may = !trusted, searched = false;
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

}  // namespace guardband::measure
