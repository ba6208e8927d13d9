#include "measure/clip/scene_agreement.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "measure/clip/pair_errors.h"

namespace guardband::measure {
namespace {

/// Lines of a field that a scene must go up or down, and may: where frames far apart were kept it goes on, but no row
/// is seen often.
constexpr float least_travel = 2, most_travel = 1500;
/// Frames of a window: so many at least, and about so many at most, as slow movement to the side changes what is under
/// an edge, and as errors of the movement add up.
constexpr std::size_t fewest_frames = 5, usual_frames = 48;
/// Lines at the top of a field that may bend.
constexpr std::size_t top_lines = 24;
/// Places that a row's mean must be of.
constexpr double fewest_places = 3;
/// Rows this far apart and more agree by chance only.
constexpr std::size_t nearest = 24;
/// Rows of a part of the scene, in which errors are alike; by how many times the scatter of parts may be larger than
/// what rows far apart let expect: a fault in a few lines is unlike the rest as well.
constexpr std::size_t part_rows = 28;
constexpr double most_unlike = 2.5;
/// Deviations up to which an agreement is chance, and from which on it is none: at the top, where few errors are, and
/// elsewhere.
constexpr std::array by_chance{3.0, 1.0}, not_by_chance{8.0, 3.0};

double px(float value) { return static_cast<double>(value); }

}  // namespace

bool SceneAgreement::Row::is_known() const { return weight * weight >= fewest_places * squared_weights && weight > 0; }

std::size_t SceneAgreement::zone_of(std::size_t line) { return line < top_lines ? 0 : 1; }

SceneAgreement::SceneAgreement(const DisplacementStore& store, std::size_t end, double mean_px,
                               const TwiceOrOnce& squares)
    : store_(store) {
    for (std::size_t first = 0, i = 1; i <= store.frames(); ++i)
        if (i == store.frames() || store.scene(i).number != store.scene(first).number) cut(first, i), first = i;
    if (windows_.empty()) return;
    // Which field comes first, or whether both show one moment, is seen from what fits best at the beginning.
    float best = 0;
    double most = -1;
    for (const float time : {0.5F, 0.0F, -0.5F}) {
        other_field_ = time;
        gather(windows_.front(), end, mean_px, squares);
        if (const double fits = locked_difference(windows_.front()); fits > most) most = fits, best = time;
    }
    other_field_ = best;
    for (Window& window : windows_) gather(window, end, mean_px, squares);
    weigh_agreement();
}

/// Cuts the frames of one scene into windows of much the same length.
void SceneAgreement::cut(std::size_t first, std::size_t end) {
    const std::size_t frames = end - first,
                      count = std::max<std::size_t>(1, (frames + usual_frames / 2) / usual_frames);
    for (std::size_t k = 0; k < count; ++k) {
        Window window;
        window.first = first + k * frames / count, window.end = first + (k + 1) * frames / count;
        if (window.end - window.first < fewest_frames) continue;
        float least = store_.scene(window.first).lower, greatest = least;
        for (std::size_t i = window.first; i < window.end; ++i)
            least = std::min(least, store_.scene(i).lower), greatest = std::max(greatest, store_.scene(i).lower);
        if (greatest - least >= least_travel && greatest - least <= most_travel) windows_.push_back(std::move(window));
    }
}

long SceneAgreement::row_of(std::size_t frame, std::size_t parity, std::size_t line) const {
    const ScenePlace& scene = store_.scene(frame);
    const float offset = parity == 0 ? 0 : 0.5F - other_field_ * scene.moved;
    return std::lround(static_cast<float>(line) + offset - scene.lower);
}

void SceneAgreement::gather(Window& window, std::size_t end, double mean_px, const TwiceOrOnce& squares) const {
    long last = window.first_row = row_of(window.first, 0, 0);
    for (std::size_t i = window.first; i < window.end; ++i)
        for (std::size_t parity = 0; parity < 2; ++parity) {
            window.first_row = std::min(window.first_row, row_of(i, parity, 0));
            last = std::max(last, row_of(i, parity, end));
        }
    for (auto& rows : window.rows) rows.assign(static_cast<std::size_t>(last - window.first_row + 1), {});
    for (std::size_t i = window.first; i < window.end; ++i)
        for (std::size_t parity = 0; parity < 2; ++parity) {
            const std::vector<StoredLine>& field = store_.frame(i)[parity];
            for (std::size_t y = first_line; y < std::min(end, field.size()); ++y) {
                const StoredLine& line = field[y];
                if (!line.placed() || !line.has_pair()) continue;
                const double weight = squares.weight(y / group_lines, px(line.pair_variance));
                Row& row = window.rows[zone_of(y)][static_cast<std::size_t>(row_of(i, parity, y) - window.first_row)];
                row.weight += weight, row.squared_weights += weight * weight;
                row.left_px += weight * (px(line.left_px) - mean_px);
                row.right_px += weight * (px(line.right_px) - mean_px);
            }
        }
    for (auto& rows : window.rows)
        for (Row& row : rows)
            if (row.weight > 0) row.left_px /= row.weight, row.right_px /= row.weight;
}

/// How much of what the edges differ by is locked to the scene, for comparison.
double SceneAgreement::locked_difference(const Window& window) {
    double sum = 0;
    for (const auto& rows : window.rows)
        for (const Row& row : rows)
            if (row.is_known()) sum += row.weight * (row.left_px - row.right_px) * (row.left_px - row.right_px);
    return sum;
}

/// Variance of what the products of left and right add up to by chance.
double SceneAgreement::chance(const std::vector<Row>& rows) {
    std::vector<double> differences(rows.size());
    for (std::size_t i = 0; i < rows.size(); ++i)
        if (rows[i].is_known()) differences[i] = std::sqrt(rows[i].weight) * (rows[i].left_px - rows[i].right_px);
    double squares = 0, distances = 0;
    for (std::size_t away = nearest; away + nearest < rows.size(); ++away, ++distances) {
        const auto middle = differences.begin() + static_cast<std::ptrdiff_t>(away);
        const auto rest = differences.begin() + (differences.end() - middle);
        // Each with the one so far below it; the lowest with those at the top.
        const double sum = std::inner_product(middle, differences.end(), differences.begin(), 0.0) +
                           std::inner_product(rest, differences.end(), differences.begin(), 0.0);
        // Left and right alone are as large as half of the squared difference.
        squares += sum * sum / 4;
    }
    return distances > 0 ? squares / distances : 0;
}

/// Variance of what the products add up to, by how unlike they are in parts of the scene.
double SceneAgreement::scatter_of_parts() const {
    std::vector<MeanSquare> parts;
    MeanSquare all;
    for (const Window& window : windows_) {
        const std::vector<Row>& rows = window.rows.back();
        for (std::size_t i = 0; i < rows.size(); ++i) {
            if (i % part_rows == 0) parts.emplace_back();
            if (rows[i].is_known()) parts.back().add_weighted(rows[i].left_px * rows[i].right_px, rows[i].weight);
        }
    }
    for (const MeanSquare& part : parts) all.join(part);
    double squares = 0;
    for (const MeanSquare& part : parts) {
        const double off = part.squares - all.mean() * part.count;
        squares += off * off;
    }
    return squares;
}

void SceneAgreement::weigh_agreement() {
    std::array<double, zones> agreement{}, weights{};
    double variance = 0;
    for (Window& window : windows_) {
        double all = 0, taken = 0;
        for (std::size_t zone = 0; zone < zones; ++zone)
            for (const Row& row : window.rows[zone]) {
                if (!row.is_known()) continue;
                all += row.weight, taken += row.squared_weights / row.weight;
                weights[zone] += row.weight, agreement[zone] += row.weight * row.left_px * row.right_px;
            }
        if (all > 0) window.taken = taken / all;
        variance += chance(window.rows.back());
    }
    if (variance <= 0) return;
    weights_ = weights[0] + weights[1];
    const double unlike = std::clamp(scatter_of_parts() / variance, 1.0, most_unlike * most_unlike);
    for (std::size_t zone = 0; zone < zones; ++zone) {
        const double deviation = std::sqrt(zone == 0 ? variance * weights[0] / weights[1] : variance * unlike);
        const double deviations = deviation > 0 ? agreement[zone] / deviation : 0;
        share_[zone] = std::clamp((deviations - by_chance[zone]) / (not_by_chance[zone] - by_chance[zone]), 0.0, 1.0);
    }
}

std::pair<double, double> SceneAgreement::without(const StoredField& field, std::size_t line, double left_px,
                                                  double right_px) const {
    const auto window = std::ranges::find_if(
        windows_, [&](const Window& one) { return field.frame >= one.first && field.frame < one.end; });
    if (window == windows_.end()) return {left_px, right_px};
    const std::size_t zone = zone_of(line);
    const std::vector<Row>& rows = window->rows[zone];
    const long number = row_of(field.frame, field.parity, line) - window->first_row;
    if (number < 0 || number >= static_cast<long>(rows.size())) return {left_px, right_px};
    const Row& row = rows[static_cast<std::size_t>(number)];
    if (!row.is_known()) return {left_px, right_px};
    // Of the product of both the share is kept. What else the rows took is put back.
    const double locked = std::sqrt(share_[zone]);
    const double rest = std::sqrt((1 - share_[zone] * window->taken) / (1 - window->taken));
    return {rest * (left_px - row.left_px) + locked * row.left_px,
            rest * (right_px - row.right_px) + locked * row.right_px};
}

}  // namespace guardband::measure
