#include <algorithm>
#include <cmath>

#include "rows/kernels.h"
#include "rows/shift_kernels.h"

namespace guardband::rows {
namespace {

constexpr int cell = shift_cell_samples;

/// @param difference_at, slope_at  of the two rows at a sample
template <typename Difference, typename Slope>
ShiftSums fit(Difference difference_at, Slope slope_at, int cells, float whole, const ShiftRules& rules, float* shifts,
              float* weights) {
    ShiftSums sums;
    const int padded = (cells + shift_cell_group - 1) / shift_cell_group * shift_cell_group;
    for (int c = 0; c < padded; ++c) {
        shifts[c] = whole, weights[c] = 0;
        if (c >= cells) continue;
        int difference = 0, slope = 0, difference_squares = 0, all_products = 0, slope_squares = 0;
        for (int x = c * cell; x < (c + 1) * cell; ++x) {
            const int d = difference_at(x), g = slope_at(x);
            difference += d, slope += g;
            difference_squares += d * d, all_products += d * g, slope_squares += g * g;
        }
        const auto d = static_cast<float>(difference), g = static_cast<float>(slope);
        const float products = static_cast<float>(all_products) - d * g / cell;
        const float slopes = static_cast<float>(slope_squares) - g * g / cell;
        const float squares = static_cast<float>(difference_squares) - d * d / cell;
        if (slopes < rules.least_slopes) continue;
        // A row that lies to the right by t differs by −t times the slope.
        constexpr float scale = slope_scale / smooth_scale;
        const float left = std::max(squares - products * products / slopes, 0.0F) + rules.rounding;
        shifts[c] = whole - scale * products / slopes;
        weights[c] = slopes * cell / (scale * scale * rules.alike * left);
        sums.left += left, sums.slopes += slopes, sums.products += products;
    }
    return sums;
}

ShiftSums fit_cells(const RowPair& rows, int cells, float whole, const ShiftRules& rules, float* shifts,
                    float* weights) {
    return fit([&](int x) { return rows.smooth[x] - rows.other_smooth[x]; },
               [&](int x) { return (rows.slope[x] + rows.other_slope[x]) >> 1; }, cells, whole, rules, shifts, weights);
}

ShiftSums fit_changes(const RowPair& rows, int cells, float whole, const ShiftRules& rules, float* shifts,
                      float* weights) {
    const auto difference = [&](int x) { return rows.smooth[x] - rows.other_smooth[x]; };
    const auto slopes = [&](int x) { return rows.slope[x] + rows.other_slope[x]; };
    return fit([&](int x) { return difference(x + 1) - difference(x); },
               [&](int x) { return (slopes(x + 1) - slopes(x)) >> 1; }, cells, whole, rules, shifts, weights);
}

void means_of_lines(const LinesOfCells& in, float spread, float* means, float* weights) {
    constexpr int most_rounds = 3;
    constexpr float at_rest = 0.01F;
    const std::size_t padded = (in.lines + shift_line_group - 1) / shift_line_group * shift_line_group;
    for (std::size_t line = 0; line < padded; ++line) {
        const auto value = [&](int c) { return in.values[static_cast<std::size_t>(c) * in.stride + line]; };
        const auto sure = [&](int c) {
            const float weight = in.weights[static_cast<std::size_t>(c) * in.stride + line];
            return weight / (1 + spread * weight);
        };
        float sum = 0, all = 0;
        for (int c = 0; c < in.cells; ++c) {
            const float root = std::sqrt(sure(c));  // at first none may rule alone
            sum += root * value(c), all += root;
        }
        float mean = all > 0 ? sum / all : 0;
        for (int round = 0; round < most_rounds && all > 0; ++round) {
            sum = all = 0;
            for (int c = 0; c < in.cells; ++c) {
                const float off = value(c) - mean, fit = 1 / (1 + off * off * sure(c) / 4);
                sum += fit * fit * sure(c) * value(c), all += fit * fit * sure(c);
            }
            const float before = mean;
            mean = all > 0 ? sum / all : 0;
            if (std::abs(mean - before) < at_rest) break;
        }
        means[line] = mean, weights[line] = all;
    }
}

void quarter(const std::int16_t* in, int count, std::int16_t* out) {
    for (int i = 0; i < count; ++i, in += 4) out[i] = static_cast<std::int16_t>((in[0] + in[1] + in[2] + in[3]) >> 2);
}

void misfits(const std::int16_t* row, const std::int16_t* other, int places, float* out) {
    for (int j = 0; j < places; ++j) {
        int sum = 0, squares = 0;
        for (int k = 0; k < cell; ++k) {
            const int d = row[k] - other[k + j];
            sum += d, squares += d * d;
        }
        out[j] = static_cast<float>(squares) - static_cast<float>(sum) * static_cast<float>(sum) / cell;
    }
}

void movement_sums(const FieldPair& in, int rows, int columns, const MovementSums& out) {
    for (int x = 0; x < columns; ++x) {
        float dd = 0, da = 0, aa = 0, dc = 0, ac = 0;
        for (int y = 0; y < rows; ++y) {
            const std::size_t row = static_cast<std::size_t>(y) * in.stride;
            const float *now = in.field + row, *before = in.other + row;
            const float down =
                (in.slope[row + static_cast<std::size_t>(x)] + in.other_slope[row + static_cast<std::size_t>(x)]) / 2;
            const float along = (now[x + 1] - now[x - 1] + before[x + 1] - before[x - 1]) / 4;
            const float change = now[x] - before[x];
            dd += down * down, da += down * along, aa += along * along, dc += down * change, ac += along * change;
        }
        out.down_squares[x] = dd, out.products[x] = da, out.along_squares[x] = aa;
        out.down_change[x] = dc, out.along_change[x] = ac;
    }
}

}  // namespace

const ShiftKernels& plain_shift_kernels() {
    static const ShiftKernels kernels{fit_cells, fit_changes, means_of_lines, quarter, misfits, movement_sums};
    return kernels;
}

}  // namespace guardband::rows
