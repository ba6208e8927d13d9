#include "measure/clip/time_base_sums.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

constexpr std::size_t first_line = 2, most_stretches = 16;
constexpr double peak_share = 0.999;  ///< the peak is the 99.9th percentile of the magnitude
/// Steps by the two parts of a line that are further apart, samples, don't count: 50 ns.
constexpr float most_disagreement_px = 0.7F;
/// ... nor do steps beyond so many times their scatter and this, samples.
constexpr double most_scatters = 5, least_step_px = 0.2;
/// How far what is subtracted for noise may be wrong.
constexpr double subtraction_error = 1.0 / 3;
constexpr std::size_t fewest_lines = 200;

struct Sums {
    double squares = 0, subtracted = 0, count = 0;

    void add(double square, double noise) { squares += square - noise, subtracted += noise, ++count; }
    double mean() const { return count > 0 ? squares / count : 0; }
};

/// Root of a mean square that may have come out below 0, from the stretches of a clip.
Estimated root(const std::vector<Sums>& stretches) {
    Sums all;
    double used = 0, scatter = 0;
    for (const Sums& s : stretches) {
        all.squares += s.squares, all.subtracted += s.subtracted, all.count += s.count;
        used += s.count > 0 ? 1 : 0;
    }
    for (const Sums& s : stretches)
        if (s.count > 0) scatter += (s.mean() - all.mean()) * (s.mean() - all.mean());
    const double noise = all.count > 0 ? subtraction_error * all.subtracted / all.count : 0;
    const double error = std::hypot(used > 1 ? std::sqrt(scatter / (used - 1) / used) : std::abs(all.mean()), noise);
    const double value = std::sqrt(std::max(all.mean(), 0.0));
    // Of a root: half the relative error; near 0, the root of the error.
    return {value, value * value > error ? error / (2 * value) : std::sqrt(error)};
}

/// Goes through all fields of a store with the number of their stretch.
template <typename Function>
void each_field(const DisplacementStore& store, const Function& function) {
    const std::size_t stretches = std::min(most_stretches, store.frames());
    for (std::size_t i = 0; i < store.frames(); ++i)
        for (std::size_t parity = 0; parity < 2; ++parity)
            function(store.frame(i)[parity], i * stretches / store.frames(), parity);
}

double px(float value) { return static_cast<double>(value); }

/// The better half of the measurements of one line over all fields, so that each line counts as often.
void better_half(const DisplacementStore& store, std::size_t parity, std::size_t line, std::vector<StoredLine>& out) {
    out.clear();
    for (std::size_t i = 0; i < store.frames(); ++i)
        if (const StoredLine& one = store.frame(i)[parity][line]; one.placed()) out.push_back(one);
    const auto half = out.begin() + static_cast<std::ptrdiff_t>((out.size() + 1) / 2);
    if (half != out.end()) std::ranges::nth_element(out, half, {}, &StoredLine::variance);
    out.erase(half, out.end());
}

/// What the errors of the measurement do: how much larger they are than stated, and how their distribution ends.
struct Errors {
    double scale = 1;    ///< of stated variances
    double tail_px = 0;  ///< 99.9th percentile of their magnitude
};

/// From lines whose two edges are seen: half of what these differ by is as large as the errors of their mean.
Errors errors_of_pairs(const DisplacementStore& store, std::size_t end, double mean_px) {
    std::vector<float> halves;
    double added = 0, stated = 0, half_squares = 0;
    each_field(store, [&](const std::vector<StoredLine>& field, std::size_t, std::size_t) {
        for (std::size_t i = first_line; i < std::min(end, field.size()); ++i) {
            const StoredLine& line = field[i];
            if (!line.placed() || !line.has_pair()) continue;
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

void add_peak(const DisplacementStore& store, std::size_t end, const Errors& errors, TimeBaseSums& out) {
    std::vector<float> off;
    std::vector<StoredLine> line;
    for (std::size_t parity = 0; parity < 2; ++parity)
        for (std::size_t i = first_line; i < std::min(end, store.lines(parity)); ++i) {
            better_half(store, parity, i, line);
            for (const StoredLine& one : line)
                off.push_back(static_cast<float>(std::abs(px(one.place_px) - out.mean_px)));
        }
    if (off.empty()) return;
    const double peak = dsp::quantile_in_place(off, peak_share);
    const double corrected = std::sqrt(std::max(0.0, peak * peak - errors.tail_px * errors.tail_px));
    out.peak_px = {corrected, std::hypot(errors.tail_px / 2, 0.02 * corrected)};
}

void add_places(const DisplacementStore& store, std::size_t end, TimeBaseSums& out) {
    double sum = 0;
    each_field(store, [&](const std::vector<StoredLine>& field, std::size_t, std::size_t) {
        for (std::size_t i = first_line; i < std::min(end, field.size()); ++i)
            if (field[i].placed())
                sum += px(field[i].place_px), ++out.counted;
            else
                ++out.not_placed;
    });
    if (out.counted < fewest_lines) return;
    out.mean_px = sum / static_cast<double>(out.counted);
    const Errors errors = errors_of_pairs(store, end, out.mean_px);
    std::vector<Sums> stretches(most_stretches);
    each_field(store, [&](const std::vector<StoredLine>& field, std::size_t stretch, std::size_t) {
        for (std::size_t i = first_line; i < std::min(end, field.size()); ++i) {
            const StoredLine& line = field[i];
            if (!line.placed()) continue;
            const double place = px(line.place_px) - out.mean_px;
            if (line.has_pair())
                stretches[stretch].add((px(line.left_px) - out.mean_px) * (px(line.right_px) - out.mean_px), 0);
            else
                stretches[stretch].add(place * place, errors.scale * px(line.variance));
        }
    });
    out.rms_px = root(stretches);
    add_peak(store, end, errors, out);
}

/// Of a store with edges: steps of the edges' places, or of all evidence together.
void add_jitter(const DisplacementStore& store, std::size_t end, TimeBaseSums& out) {
    std::vector<Sums> stretches(most_stretches);
    each_field(store, [&](const std::vector<StoredLine>& field, std::size_t stretch, std::size_t) {
        for (std::size_t i = first_line + 1; i < std::min(end, field.size()); ++i) {
            const StoredLine &line = field[i], &above = field[i - 1];
            if (!line.step_known()) continue;
            ++out.steps;
            const double step = px(line.place_px) - px(above.place_px);
            const double left = px(line.left_px) - px(above.left_px), right = px(line.right_px) - px(above.right_px);
            if (line.has_pair() && above.has_pair())
                stretches[stretch].add(left * right / 2, 0);
            else
                stretches[stretch].add(step * step / 2, px(line.step_variance) / 2);
        }
    });
    if (out.steps >= fewest_lines) out.jitter_px = root(stretches);
}

/// Calls back with the steps of all lines whose left and right part were compared with the line above and agree. Where
/// the two disagree by far, one has seen something else than a step.
template <typename Function>
void each_step_of_halves(const DisplacementStore& store, std::size_t end, const Function& function) {
    each_field(store, [&](const std::vector<StoredLine>& field, std::size_t stretch, std::size_t) {
        for (std::size_t i = first_line + 1; i < std::min(end, field.size()); ++i)
            if (field[i].has_pair() && std::abs(field[i].left_px - field[i].right_px) <= most_disagreement_px)
                function(field[i].left_px, field[i].right_px, stretch);
    });
}

/// Without edges: steps by the left and by the right part of each line, in which outlines slant this way and that.
/// Steps far beyond what all scatter by come from lines that show different things.
void add_jitter_of_halves(const DisplacementStore& store, std::size_t end, TimeBaseSums& out) {
    std::vector<float> steps;
    each_step_of_halves(store, end, [&](float left, float right, std::size_t) { steps.push_back((left + right) / 2); });
    if (steps.size() < fewest_lines) return;
    const double most = most_scatters * dsp::spread(std::span<const float>(steps)) + least_step_px;
    std::vector<Sums> stretches(most_stretches);
    each_step_of_halves(store, end, [&](float left, float right, std::size_t stretch) {
        if (std::abs(px(left) + px(right)) / 2 > most) return;
        ++out.steps;
        stretches[stretch].add(px(left) * px(right) / 2, 0);
    });
    if (out.steps >= fewest_lines) out.jitter_px = root(stretches);
}

void add_flagging(const DisplacementStore& store, TimeBaseSums& out) {
    std::vector<double> flags;
    each_field(store, [&](const std::vector<StoredLine>& field, std::size_t, std::size_t) {
        double top = 0, middle = 0, tops = 0, middles = 0;
        for (std::size_t i = first_line; i < std::min(first_line + 8, field.size()); ++i)
            if (field[i].placed()) top += px(field[i].place_px), ++tops;
        for (std::size_t i = field.size() / 4; i < field.size() - field.size() / 4; ++i)
            if (field[i].placed()) middle += px(field[i].place_px), ++middles;
        // All eight: which of them are lost depends on how far they lie off.
        if (tops == 8 && middles > 0) flags.push_back(top / tops - middle / middles);
    });
    if (flags.size() < 4) return;
    double sum = 0, squares = 0;
    for (const double one : flags) sum += one, squares += one * one;
    const auto count = static_cast<double>(flags.size());
    const double scatter = std::sqrt(std::max(squares / count - sum * sum / count / count, 0.0));
    constexpr double alike = 5;  // fields whose pictures err alike
    out.flagging_px = {sum / count, scatter * std::sqrt(alike / count) + 0.03};
}

}  // namespace

TimeBaseSums time_base_sums(const DisplacementStore& store, std::size_t end) {
    TimeBaseSums out;
    if (!store.has_edges()) {
        add_jitter_of_halves(store, end, out);
        return out;
    }
    add_places(store, end, out);
    add_jitter(store, end, out);
    add_flagging(store, out);
    return out;
}

}  // namespace guardband::measure
