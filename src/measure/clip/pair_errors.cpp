#include "measure/clip/pair_errors.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "dsp/robust.h"
#include "measure/clip/stored_fields.h"

namespace guardband::measure {
namespace {

/// Distances of lines that are held against each other: the least, and the steps from one to the next.
constexpr std::size_t nearest = 24, distance_step = 12;
/// By so much the stated errors of two lines make them alike, at most.
constexpr double most_scale = 3;

double px(float value) { return static_cast<double>(value); }

bool is_known_twice(const StoredLine& line) { return line.placed() && line.has_pair(); }

/// One line of a field, as it takes part in the mean square.
struct Part {
    double off = 0;     ///< its place off the mean, samples
    double apart = 0;   ///< what its edges differ by
    double spread = 0;  ///< of its errors, as stated; 0: it takes no part
    double weight = 0;
};

std::vector<Part> parts_of(const std::vector<StoredLine>& field, std::size_t end, double mean_px,
                           const TwiceOrOnce& squares) {
    std::vector<Part> parts;
    for (std::size_t i = first_line; i < std::min(end, field.size()); ++i) {
        const StoredLine& line = field[i];
        parts.emplace_back();
        if (!is_known_twice(line) || line.pair_variance <= 0) continue;
        parts.back() = {px(line.place_px) - mean_px, px(line.left_px - line.right_px),
                        std::sqrt(px(line.pair_variance)), squares.weight(i / group_lines, px(line.pair_variance))};
    }
    return parts;
}

}  // namespace

PairErrors errors_of_pairs(const DisplacementStore& store, std::size_t end, double mean_px) {
    std::vector<float> halves;
    double added = 0, stated = 0, half_squares = 0;
    each_field(store, [&](const std::vector<StoredLine>& field, const StoredField&) {
        for (std::size_t i = first_line; i < std::min(end, field.size()); ++i) {
            const StoredLine& line = field[i];
            if (!is_known_twice(line)) continue;
            const double place = px(line.place_px) - mean_px;
            added += place * place - (px(line.left_px) - mean_px) * (px(line.right_px) - mean_px);
            stated += px(line.variance);
            halves.push_back(std::abs(line.left_px - line.right_px) / 2);
            half_squares += px(halves.back()) * px(halves.back());
        }
    });
    if (halves.size() < fewest_lines || stated <= 0) return {};
    const double tail = dsp::quantile_in_place(halves, peak_share);
    const double size = std::sqrt(std::max(0.0, added) / std::max(half_squares, 1e-12));
    return {std::max(1.0, added / stated), tail * std::min(1.0, size)};
}

double error_of_products(const DisplacementStore& store, std::size_t end, double mean_px, const TwiceOrOnce& squares) {
    const std::size_t lines = end > first_line ? end - first_line : 0;
    if (lines < 3 * nearest) return 0;
    std::vector<double> sums((lines - 2 * nearest) / distance_step + 1);
    double weights = 0;
    each_field(store, [&](const std::vector<StoredLine>& field, const StoredField&) {
        const std::vector<Part> parts = parts_of(field, end, mean_px, squares);
        for (const Part& part : parts) weights += part.weight;
        for (std::size_t k = 0; k < sums.size(); ++k)
            for (std::size_t i = 0; i < parts.size(); ++i) {
                const Part &one = parts[i], &far = parts[(i + nearest + k * distance_step) % parts.size()];
                if (one.spread <= 0 || far.spread <= 0) continue;
                // Errors of the other line, as large as they would be here: what they do to the displacement, and both
                // to each other.
                const double error = far.apart * std::min(one.spread / far.spread, most_scale);
                sums[k] += one.weight * error * (one.off + one.apart / 2);
            }
    });
    if (weights <= 0) return 0;
    double squared = 0;
    for (const double sum : sums) squared += sum * sum / (weights * weights);
    return std::sqrt(squared / static_cast<double>(sums.size()));
}

}  // namespace guardband::measure
