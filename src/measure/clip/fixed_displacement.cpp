#include "measure/clip/fixed_displacement.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

namespace guardband::measure {
namespace {

constexpr std::size_t first_line = 2, most_stretches = 8;
constexpr double fewest_cells_share = 0.5;

/// What either edge says of a line, mean over a stretch; two edges that are not both seen say the same.
struct Cell {
    double left = 0, right = 0, count = 0;
};

/// Mean pattern of the lines of a frame's two fields, one after the other.
using Pattern = std::vector<Cell>;

/// What sines add up to on one line after another.
class Rotation {
public:
    Rotation(std::span<const dsp::Sine> sines, double start_s, double step_s) {
        for (const dsp::Sine& sine : sines) {
            const double turn = 2 * std::numbers::pi * sine.hz;
            now_.push_back(std::complex(sine.cosine, -sine.sine) * std::polar(1.0, turn * start_s));
            step_.push_back(std::polar(1.0, turn * step_s));
        }
    }
    double next() {
        double sum = 0;
        for (std::size_t i = 0; i < now_.size(); ++i) sum += now_[i].real(), now_[i] *= step_[i];
        return sum;
    }

private:
    std::vector<std::complex<double>> now_, step_;
};

struct Sums {
    std::vector<Pattern> stretches;
    double product = 0, left = 0, right = 0, count = 0;  ///< over all lines, for the displacement as a whole

    double mean_square() const { return count > 0 ? product / count - left / count * (right / count) : 0; }
};

Sums gather(const DisplacementSeries& series, std::size_t end, const LineTiming& timing,
            std::span<const dsp::Sine> sines) {
    const auto& frames = series.frames();
    const std::size_t stretches = std::min(most_stretches, frames.size()), lines = end - first_line;
    Sums sums;
    sums.stretches.assign(stretches, Pattern(2 * lines));
    for (std::size_t i = 0; i < frames.size(); ++i)
        for (std::size_t parity = 0; parity < 2; ++parity) {
            const double start_s = timing.field_s(frames[i].index - frames.front().index, parity) +
                                   static_cast<double>(first_line) / timing.line_hz;
            Rotation known(sines, start_s, 1 / timing.line_hz);
            Cell* cells = sums.stretches[i * stretches / frames.size()].data() + parity * lines;
            for (std::size_t line = 0; line < lines; ++line) {
                const DisplacementSeries::Line& one = frames[i].fields[parity][first_line + line];
                const double moved = known.next();
                if (std::isnan(one.place_px)) continue;
                const double left = static_cast<double>(one.has_pair() ? one.left_px : one.place_px);
                const double right = static_cast<double>(one.has_pair() ? one.right_px : one.place_px);
                sums.product += left * right, sums.left += left, sums.right += right, ++sums.count;
                cells[line].left += left - moved, cells[line].right += right - moved, ++cells[line].count;
            }
        }
    return sums;
}

/// Makes means of sums, and takes the mean over all lines out: how far all lie off is not to be had.
void centre(Pattern& pattern) {
    double left = 0, right = 0, known = 0;
    for (Cell& cell : pattern)
        if (cell.count > 0) {
            cell.left /= cell.count, cell.right /= cell.count;
            left += cell.left, right += cell.right, ++known;
        }
    for (Cell& cell : pattern) cell.left -= left / std::max(1.0, known), cell.right -= right / std::max(1.0, known);
}

/// Mean products of two stretches' patterns: what the fields have in common, and what they differ by.
struct Product {
    double alike = 0, apart = 0, count = 0;
};

Product product_of(const Pattern& a, const Pattern& b) {
    Product out;
    const std::size_t lines = a.size() / 2;
    for (std::size_t i = 0; i < lines; ++i) {
        const Cell &a0 = a[i], &a1 = a[i + lines], &b0 = b[i], &b1 = b[i + lines];
        if (a0.count == 0 || a1.count == 0 || b0.count == 0 || b1.count == 0) continue;
        out.alike += (a0.left + a1.left) * (b0.right + b1.right) / 4;
        out.apart += (a0.left - a1.left) * (b0.right - b1.right) / 4;
        ++out.count;
    }
    return out;
}

/// Mean squares of the fixed part by all pairs of stretches but those with one of them.
struct MeanSquares {
    double alike = 0, apart = 0;
    double all() const { return alike + apart; }
};

MeanSquares mean_squares(const std::vector<std::vector<Product>>& pairs, std::size_t without) {
    MeanSquares out;
    double count = 0;
    for (std::size_t g = 0; g < pairs.size(); ++g)
        for (std::size_t h = 0; h < pairs.size(); ++h) {
            if (g == h || g == without || h == without) continue;
            out.alike += pairs[g][h].alike, out.apart += pairs[g][h].apart, count += pairs[g][h].count;
        }
    if (count > 0) out.alike /= count, out.apart /= count;
    return out;
}

}  // namespace

FixedDisplacement fixed_displacement(const DisplacementSeries& series, std::size_t end, const LineTiming& timing,
                                     std::span<const dsp::Sine> sines) {
    FixedDisplacement out;
    end = std::min(end, series.lines());
    if (end < first_line + 20 || series.frames().size() < 4) return out;
    Sums sums = gather(series, end, timing, sines);
    for (Pattern& pattern : sums.stretches) centre(pattern);
    const std::size_t stretches = sums.stretches.size();
    std::vector<std::vector<Product>> pairs(stretches, std::vector<Product>(stretches));
    double count = 0;
    for (std::size_t g = 0; g < stretches; ++g)
        for (std::size_t h = 0; h < stretches; ++h)
            if (g != h) pairs[g][h] = product_of(sums.stretches[g], sums.stretches[h]), count += pairs[g][h].count;
    const auto all_lines = static_cast<double>(stretches * (stretches - 1) * (end - first_line));
    if (count < fewest_cells_share * all_lines) return out;
    const MeanSquares squares = mean_squares(pairs, stretches);
    double scatter = 0;
    for (std::size_t g = 0; g < stretches; ++g) {
        const double off = mean_squares(pairs, g).all() - squares.all();
        scatter += off * off;
    }
    const auto n = static_cast<double>(stretches);
    const double error = std::sqrt((n - 1) / n * scatter), square = std::max(0.0, squares.all());
    const double value = std::sqrt(square);
    out.fixed_px = Estimated{value, square > error ? error / (2 * value) : std::sqrt(error)};
    out.alike_share = square > 0 ? std::clamp(squares.alike / square, 0.0, 1.0) : 0;
    out.moving_px = std::sqrt(std::max(0.0, sums.mean_square() - square));
    return out;
}

}  // namespace guardband::measure
