#include "measure/clip/field_follower.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

constexpr int segments_in_column = 2, largest_shift = 12;
constexpr int pieces_across = 11, pieces_down = 12;
constexpr std::size_t behind = 32;  ///< numbers behind a field, as many as kernels may read too far
constexpr std::size_t fewest_pieces = 20, fewest_of_part = 12;
/// Shifts beyond this are read again about another whole number of rows.
constexpr double nearest = 0.7;
constexpr double codes_of_8_bits = 256;
/// A piece says nothing where its slopes are below this, squared 8-bit codes per sample and row.
constexpr double least_slope = 1.0 / 16;
/// Fine texture that has moved by more than its own size looks, about no movement, like one that rests: what differs
/// has nothing to do with the slopes, in any piece. So a rest counts only where the picture fits no other shift better,
/// by this share of the difference.
constexpr float fits_well = 0.7F;
/// Pieces must agree this well, rows RMS: cuts don't.
constexpr double most_scatter = 0.5;
constexpr double far_better = 0.5;  ///< misfit over that of the other shift
/// A piece tells where one of two shifts misfits by so many times what noise leaves, and by more than rounding, codes
/// of the clip.
constexpr double over_noise = 3, rounding = 0.3;
constexpr double quiet_share = 0.25;  ///< of the pieces that fit best, whose misfit is noise

}  // namespace

/// Reduces, smooths and differentiates the rows of one parity. Taps as those of rows/kernels.h.
void FieldFollower::filter(const FrameFeatures& features, std::size_t parity) {
    const Grid<std::uint32_t>& sums = features.segment_sums;
    code_ = std::max(1.0, static_cast<double>(features.histogram.size()) / codes_of_8_bits);
    columns_ = sums.width / segments_in_column;
    rows_ = (sums.height + 1 - static_cast<int>(parity)) / 2;
    const auto columns = static_cast<std::size_t>(columns_), size = columns * static_cast<std::size_t>(rows_);
    reduced_.resize(size), now_.size = size;
    now_.smooth.assign(size + behind, 0), now_.slope.assign(size + behind, 0);
    const float scale = 1.0F / (static_cast<float>(code_) * segments_in_column * FrameFeatures::segment);
    for (int y = 0; y < rows_; ++y) {
        const std::uint32_t* from = &sums.at(0, 2 * y + static_cast<int>(parity));
        float* to = reduced_.data() + static_cast<std::size_t>(y) * columns;
        for (std::size_t x = 0; x < columns; ++x)
            to[x] = scale * static_cast<float>(static_cast<std::int32_t>(from[2 * x] + from[2 * x + 1]));
    }
    // All rows in one go: those around lie before and behind by whole rows. A loop for each, or the compiler would not
    // make vectors of them.
    const float* from = reduced_.data();
    const std::size_t begin = 2 * columns, end = size > begin ? size - begin : 0;
    float *smooth = now_.smooth.data(), *slope = now_.slope.data();
    const float *a = from - 2 * columns, *b = from - columns, *d = from + columns, *e = from + 2 * columns;
    for (std::size_t i = begin; i < end; ++i) smooth[i] = (a[i] + e[i] + 8 * (b[i] + d[i]) + 14 * from[i]) / 32;
    for (std::size_t i = begin; i < end; ++i) slope[i] = (7 * (e[i] - a[i]) + 18 * (d[i] - b[i])) / 64;
}

float FieldFollower::mean_difference(int whole) const {
    constexpr int lanes = 4;  // sums that the compiler makes a vector of
    std::array<float, lanes> sums{};
    int count = 0;
    for (int y = largest_shift + 2; y + largest_shift + 2 < rows_; y += 3, ++count) {
        const float* now = now_.smooth.data() + static_cast<std::ptrdiff_t>(y) * columns_;
        const float* before = before_.smooth.data() + static_cast<std::ptrdiff_t>(y - whole) * columns_;
        for (int x = 0; x + lanes <= columns_; x += lanes)
            for (int k = 0; k < lanes; ++k) sums[static_cast<std::size_t>(k)] += std::abs(now[x + k] - before[x + k]);
    }
    const float sum = sums[0] + sums[1] + sums[2] + sums[3];
    return count > 0 ? sum / static_cast<float>(count) : 0;
}

/// Takes what the pieces of one band say. @param sums  of its columns from the second on  @param rows  of the band
void FieldFollower::take_pieces(const rows::MovementSums& sums, int rows) {
    const int width = columns_ / pieces_across;
    for (int piece = 0; piece < pieces_across; ++piece) {
        const int left = std::max(1, piece * width), right = std::min(columns_ - 1, (piece + 1) * width);
        const auto of_piece = [left, right](const float* columns) {
            return static_cast<double>(std::accumulate(columns + left - 1, columns + right - 1, 0.0F));
        };
        const double yy = of_piece(sums.down_squares), xy = of_piece(sums.products), xx = of_piece(sums.along_squares);
        const double determinant = yy * xx - xy * xy, samples = static_cast<double>(rows) * (right - left);
        if (yy < least_slope * samples || determinant <= 0.05 * yy * xx) continue;
        pieces_.push_back(-(xx * of_piece(sums.down_change) - xy * of_piece(sums.along_change)) / determinant);
        constexpr int middle = pieces_across / 2;
        if (piece != middle) of_part_[piece < middle ? 0 : 1].push_back(pieces_.back());
    }
}

/// Mean difference of a piece from the field before, moved by so many rows.
double FieldFollower::misfit(int piece, double rows) const {
    const auto whole = static_cast<int>(std::lround(rows));
    const auto part = static_cast<float>(rows - whole);
    const int width = columns_ / pieces_across, height = rows_ / pieces_down, end = std::abs(whole) + 2;
    const int left = piece % pieces_across * width, top = std::max(end, piece / pieces_across * height);
    const int bottom = std::min(rows_ - end, (piece / pieces_across + 1) * height);
    float sum = 0;
    for (int y = top; y < bottom; ++y) {
        const auto row = static_cast<std::ptrdiff_t>(y) * columns_, row_before = row - whole * columns_;
        for (int x = left; x < left + width; ++x) {
            const float slope = (now_.slope[static_cast<std::size_t>(row + x)] +
                                 before_.slope[static_cast<std::size_t>(row_before + x)]) /
                                2;
            sum += std::abs(now_.smooth[static_cast<std::size_t>(row + x)] -
                            before_.smooth[static_cast<std::size_t>(row_before + x)] + part * slope);
        }
    }
    return bottom > top ? static_cast<double>(sum) / (static_cast<double>(bottom - top) * width) : 0;
}

double FieldFollower::share_for(double rows, double other_rows) const {
    constexpr std::size_t pieces = pieces_across * pieces_down;
    std::array<double, pieces> moved{}, stayed{}, least{};
    for (std::size_t i = 0; i < pieces; ++i) {
        moved[i] = misfit(static_cast<int>(i), rows), stayed[i] = misfit(static_cast<int>(i), other_rows);
        least[i] = std::min(moved[i], stayed[i]);
    }
    const double noise = dsp::quantile_in_place(std::span<double>(least), quiet_share);
    std::size_t telling = 0, fitting = 0;
    for (std::size_t i = 0; i < pieces; ++i) {
        if (std::max(moved[i], stayed[i]) < over_noise * noise + rounding / code_) continue;
        ++telling, fitting += moved[i] < far_better * stayed[i] ? 1 : 0;
    }
    return telling < fewest_pieces ? 0 : static_cast<double>(fitting) / static_cast<double>(telling);
}

/// Median over the pieces of the shift beyond `whole` rows.
std::optional<VerticalShift> FieldFollower::shift_about(int whole) {
    pieces_.clear(), of_part_[0].clear(), of_part_[1].clear();
    const int height = rows_ / pieces_down, end = std::abs(whole) + 2;
    const std::size_t part = static_cast<std::size_t>(columns_) + behind;
    sums_.resize(5 * part);
    float* to = sums_.data();
    const rows::MovementSums sums{to, to + part, to + 2 * part, to + 3 * part, to + 4 * part};
    for (int band = 0; band < pieces_down; ++band) {
        const int top = std::max(end, band * height), bottom = std::min(rows_ - end, (band + 1) * height);
        if (bottom <= top) continue;
        const std::ptrdiff_t row = static_cast<std::ptrdiff_t>(top) * columns_ + 1;
        const std::ptrdiff_t row_before = row - static_cast<std::ptrdiff_t>(whole) * columns_;
        rows::fast_shift_kernels().movement_sums(
            {now_.smooth.data() + row, now_.slope.data() + row, before_.smooth.data() + row_before,
             before_.slope.data() + row_before, static_cast<std::size_t>(columns_)},
            bottom - top, columns_ - 2, sums);
        take_pieces(sums, bottom - top);
    }
    if (pieces_.size() < fewest_pieces) return std::nullopt;
    const double middle = dsp::median(std::span<const double>(pieces_));
    const double scatter = dsp::spread(std::span<const double>(pieces_));
    if (scatter > most_scatter) return std::nullopt;
    const double rows = whole + middle;
    if (of_part_[0].size() >= fewest_of_part && of_part_[1].size() >= fewest_of_part)
        return VerticalShift{rows, whole + dsp::median(std::span<const double>(of_part_[0])),
                             whole + dsp::median(std::span<const double>(of_part_[1])), 0};
    // Of a median: π/2 times that of the mean.
    return VerticalShift{rows, rows, rows, 1.57 * scatter * scatter / static_cast<double>(pieces_.size())};
}

void FieldFollower::take(const FrameFeatures& features, std::size_t parity) {
    if (features.segment_sums.width / segments_in_column < 2 * pieces_across) return;
    std::swap(now_, before_);
    filter(features, parity);
}

std::optional<VerticalShift> FieldFollower::see(const FrameFeatures& features, std::size_t parity) {
    if (features.segment_sums.width / segments_in_column < 2 * pieces_across) return std::nullopt;
    take(features, parity);
    if (before_.size != now_.size || rows_ < 4 * largest_shift) return std::nullopt;
    const auto near_rest = shift_about(0);
    const bool rests = near_rest && std::abs(near_rest->rows) < nearest;
    const float at_rest = mean_difference(0);
    if (rests && at_rest < fits_well * std::min(mean_difference(-largest_shift), mean_difference(largest_shift)))
        return near_rest;
    int best = 0;
    float least = at_rest;
    for (int whole = -largest_shift; whole <= largest_shift; ++whole)
        if (const float difference = mean_difference(whole); difference < least) least = difference, best = whole;
    if (rests && (std::abs(best) < 2 || least > fits_well * at_rest)) return near_rest;
    const auto found = shift_about(best);
    return found && std::abs(found->rows - best) < 2 ? found : std::nullopt;
}

}  // namespace guardband::measure
