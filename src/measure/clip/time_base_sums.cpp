#include "measure/clip/time_base_sums.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "dsp/robust.h"
#include "measure/clip/flagging.h"
#include "measure/clip/head_switch.h"
#include "measure/clip/pair_errors.h"
#include "measure/clip/scene_agreement.h"
#include "measure/clip/stored_fields.h"

namespace guardband::measure {
namespace {

double px(float value) { return static_cast<double>(value); }

/// The steps that each line of a parity makes from the line above, as far as they are usual: a line that one edge alone
/// places, and that steps by far more than it does in other fields, was placed by something else in the picture.
class UsualSteps {
public:
    UsualSteps(const DisplacementStore& store, std::size_t parity) : middle_(store.lines(parity)), most_(middle_) {
        std::vector<float> steps;
        for (std::size_t line = 1; line < middle_.size(); ++line) {
            steps.clear();
            for (std::size_t i = 0; i < store.frames(); ++i)
                if (const auto& field = store.frame(i)[parity]; line < field.size() && field[line].step_known())
                    steps.push_back(field[line].place_px - field[line - 1].place_px);
            most_[line] = std::numeric_limits<float>::infinity();
            if (steps.size() < fewest) continue;
            middle_[line] = static_cast<float>(dsp::median(std::span<const float>(steps)));
            most_[line] = static_cast<float>(most_spreads * dsp::spread(std::span<const float>(steps)) + margin_px);
        }
    }

    bool hold(std::size_t line, float step_px) const {
        return line >= most_.size() || std::abs(step_px - middle_[line]) <= most_[line];
    }

    /// Lines from one unusual step to the next that no two edges vouch for: an outline further in was taken for the
    /// edge.
    void mark_doubtful(const std::vector<StoredLine>& field, std::vector<char>& out) const {
        out.assign(field.size(), 0);
        bool doubtful = false;
        for (std::size_t i = 1; i < field.size(); ++i) {
            if (!hold(i, field[i].place_px - field[i - 1].place_px)) doubtful = !doubtful;
            if (field[i].has_pair()) doubtful = false;
            out[i] = doubtful ? 1 : 0;
        }
    }

private:
    static constexpr std::size_t fewest = 8;
    static constexpr double most_spreads = 8, margin_px = 3;

    std::vector<float> middle_, most_;
};

/// Which lines of a store's fields are doubtful, as `UsualSteps` has it; of few fields none.
class Doubtful {
public:
    explicit Doubtful(const DisplacementStore& store) {
        if (!store.has_edges()) return;
        const std::array usual{UsualSteps(store, 0), UsualSteps(store, 1)};
        fields_.resize(store.frames());
        for (std::size_t i = 0; i < store.frames(); ++i)
            for (std::size_t parity = 0; parity < 2; ++parity)
                usual[parity].mark_doubtful(store.frame(i)[parity], fields_[i][parity]);
    }

    bool is(std::size_t frame, std::size_t parity, std::size_t line) const {
        return !fields_.empty() && fields_[frame][parity][line] != 0;
    }

private:
    std::vector<std::array<std::vector<char>, 2>> fields_;
};

/// The better half of the measurements of one line over all fields, so that each line counts as often.
void better_half(const DisplacementStore& store, const Doubtful& doubtful, std::size_t parity, std::size_t line,
                 std::vector<StoredLine>& out) {
    out.clear();
    for (std::size_t i = 0; i < store.frames(); ++i)
        if (const StoredLine& one = store.frame(i)[parity][line]; one.placed() && !doubtful.is(i, parity, line))
            out.push_back(one);
    const auto half = out.begin() + static_cast<std::ptrdiff_t>((out.size() + 1) / 2);
    if (half != out.end()) std::ranges::nth_element(out, half, {}, &StoredLine::variance);
    out.erase(half, out.end());
}

void add_peak(const DisplacementStore& store, std::size_t end, const PairErrors& errors, const Doubtful& doubtful,
              TimeBaseSums& out) {
    std::vector<float> off;
    std::vector<StoredLine> line;
    for (std::size_t parity = 0; parity < 2; ++parity)
        for (std::size_t i = first_line; i < std::min(end, store.lines(parity)); ++i) {
            better_half(store, doubtful, parity, i, line);
            for (const StoredLine& one : line)
                off.push_back(static_cast<float>(std::abs(px(one.place_px) - out.mean_px)));
        }
    if (off.empty()) return;
    double squares = 0;
    for (const float one : off) squares += px(one) * px(one);
    const double rms = std::sqrt(squares / static_cast<double>(off.size()));
    const double peak = dsp::quantile_in_place(off, peak_share);
    // Where displacement and errors are distributed alike, the peak shrinks as the RMS does without the errors; where
    // the former ends sharply, such as a sine, it shrinks by less than their tail.
    const double by_tail = std::sqrt(std::max(0.0, peak * peak - errors.tail_px * errors.tail_px));
    const double by_rms = rms > 0 ? peak * std::min(1.0, out.rms_px->value / rms) : 0;
    const double corrected = std::max(out.rms_px->value, std::min(by_tail, by_rms));
    out.peak_px = {corrected, std::hypot(errors.tail_px / 2, 0.02 * corrected)};
}

/// Places of a line by either edge, less the mean. @param agreement  what to take out of them; may be nothing
std::pair<double, double> edges_of(const StoredLine& line, const StoredField& at, std::size_t number, double mean_px,
                                   const SceneAgreement* agreement) {
    const double left = px(line.left_px) - mean_px, right = px(line.right_px) - mean_px;
    return agreement != nullptr ? agreement->without(at, number, left, right) : std::pair(left, right);
}

/// @param agreement  what to take out; may be nothing
TwiceOrOnce squares_of_places(const DisplacementStore& store, std::size_t end, double mean_px, const PairErrors& errors,
                              const SceneAgreement* agreement) {
    TwiceOrOnce squares;
    each_field(store, [&](const std::vector<StoredLine>& field, const StoredField& at) {
        for (std::size_t i = first_line; i < std::min(end, field.size()); ++i) {
            const StoredLine& line = field[i];
            if (!line.placed()) continue;
            if (!line.has_pair()) {
                squares.once(at.stretch, i / group_lines, px(line.place_px) - mean_px,
                             errors.scale * px(line.variance));
                continue;
            }
            const auto [left, right] = edges_of(line, at, i, mean_px, agreement);
            squares.twice(at.stretch, i / group_lines, left, right, px(line.pair_variance));
        }
    });
    return squares;
}

/// @param agreement  set where there is any to take out
void add_places(const DisplacementStore& store, std::size_t end, std::optional<SceneAgreement>& agreement,
                TimeBaseSums& out) {
    double sum = 0;
    each_field(store, [&](const std::vector<StoredLine>& field, const StoredField&) {
        for (std::size_t i = first_line; i < std::min(end, field.size()); ++i) {
            out.with_both_edges += field[i].has_pair() ? 1 : 0;
            if (field[i].placed())
                sum += px(field[i].place_px), ++out.counted;
            else
                ++out.not_placed;
        }
    });
    if (out.counted < fewest_lines) return;
    out.mean_px = sum / static_cast<double>(out.counted);
    const PairErrors errors = errors_of_pairs(store, end, out.mean_px);
    TwiceOrOnce squares = squares_of_places(store, end, out.mean_px, errors, nullptr);
    Estimated square = square_of(squares.root_mean_square());
    const double chance = error_of_products(store, end, out.mean_px, squares);
    agreement.emplace(store, end, out.mean_px, squares);
    if (agreement->found())
        square = square_of(squares_of_places(store, end, out.mean_px, errors, &*agreement).root_mean_square());
    else
        agreement.reset();
    square.error = std::hypot(square.error, chance);
    out.rms_px = root_of(square);
    add_peak(store, end, errors, Doubtful(store), out);
}

/// Of a store with edges: steps of the edges' places, or of all evidence together.
/// @param agreement  what to take out of the places; may be nothing
void add_jitter(const DisplacementStore& store, std::size_t end, const SceneAgreement* agreement, TimeBaseSums& out) {
    constexpr double root_half = 0.70710678;
    TwiceOrOnce squares;
    const std::array usual{UsualSteps(store, 0), UsualSteps(store, 1)};
    each_field(store, [&](const std::vector<StoredLine>& field, const StoredField& at) {
        for (std::size_t i = first_line + 1; i < std::min(end, field.size()); ++i) {
            const StoredLine &line = field[i], &above = field[i - 1];
            if (!line.step_known()) continue;
            const bool twice = line.has_pair() && above.has_pair();
            if (!twice && !usual[at.parity].hold(i, line.place_px - above.place_px)) continue;
            ++out.steps;
            if (!twice) {
                squares.once(at.stretch, i / group_lines, root_half * (px(line.place_px) - px(above.place_px)),
                             px(line.step_variance) / 2);
                continue;
            }
            const auto here = edges_of(line, at, i, out.mean_px, agreement);
            const auto over = edges_of(above, at, i - 1, out.mean_px, agreement);
            squares.twice(at.stretch, i / group_lines, root_half * (here.first - over.first),
                          root_half * (here.second - over.second),
                          (px(line.pair_variance) + px(above.pair_variance)) / 2);
        }
    });
    if (out.steps >= fewest_lines) out.jitter_px = squares.root_mean_square();
}

/// Over two lines a slope is twice as large and what is rough no larger: of the mean squares d₁ and d₂ of differences
/// over one and over two lines, (4 d₁ − d₂) / 6 is the latter's.
void add_rough(const DisplacementStore& store, std::size_t end, TimeBaseSums& out) {
    double one = 0, two = 0, ones = 0, twos = 0;
    each_field(store, [&](const std::vector<StoredLine>& field, const StoredField&) {
        const auto product = [&](std::size_t i, std::size_t other) {
            return px(field[i].left_px - field[other].left_px) * px(field[i].right_px - field[other].right_px);
        };
        for (std::size_t i = first_line + 2; i < std::min(end, field.size()); ++i) {
            if (!field[i].has_pair() || !field[i - 2].has_pair()) continue;
            two += product(i, i - 2), ++twos;
            if (field[i - 1].has_pair()) one += product(i, i - 1), ++ones;
        }
    });
    if (ones >= fewest_lines) out.rough_px = std::sqrt(std::max(0.0, (4 * one / ones - two / twos) / 6));
}

/// Lines that follow each other don't lie to opposite sides of each other by preference, so that they scatter as much
/// as their steps say at least: where noise leaves less, both are one measurement.
void join_with_jitter(TimeBaseSums& out) {
    if (!out.rms_px || !out.jitter_px || out.jitter_px->value <= out.rms_px->value) return;
    const Estimated rms = square_of(*out.rms_px), jitter = square_of(*out.jitter_px);
    if (jitter.value - rms.value > 2 * std::hypot(rms.error, jitter.error)) return;
    const double weight = 1 / (rms.error * rms.error), jitter_weight = 1 / (jitter.error * jitter.error);
    const double value = (weight * rms.value + jitter_weight * jitter.value) / (weight + jitter_weight);
    out.rms_px = root_of(Estimated{value, 1 / std::sqrt(weight + jitter_weight)});
}

/// Without edges: how far lines lie off their means of the last second.
void add_varying(const DisplacementStore& store, std::size_t end, TimeBaseSums& out) {
    // A mean over so many frames takes a part of what it is taken from.
    constexpr double taken = 1.0 / 25;
    std::vector<MeanSquare> stretches(most_stretches);
    double known = 0, lines = 0;
    each_field(store, [&](const std::vector<StoredLine>& field, const StoredField& at) {
        for (std::size_t i = first_line; i < std::min(end, field.size()); ++i, ++lines)
            if (field[i].wander_known())
                ++known,
                    stretches[at.stretch].add(px(field[i].off_mean_px) * px(field[i].off_mean_px) / (1 - taken), 0);
    });
    if (known < fewest_lines) return;
    out.varying_px = root_of(stretches);
    out.varying_share = known / lines;
}

/// Medians over some frames, so that rows wrongly laid over each other don't count.
void add_lasting(const DisplacementStore& store, std::size_t end, TimeBaseSums& out) {
    constexpr std::size_t window = 5, fewest = 3, zone = switch_zone;
    constexpr float most_variance = 0.04F;  // 15 ns
    std::vector<float> steps;
    double squares = 0, count = 0;
    for (std::size_t first = 0; first + window <= store.frames(); first += window)
        for (std::size_t parity = 0; parity < 2; ++parity) {
            const std::size_t lines = store.lines(parity), last = std::min(end, lines - std::min(lines, zone));
            for (std::size_t i = first_line + 1; i < last; ++i) {
                steps.clear();
                for (std::size_t frame = first; frame < first + window; ++frame)
                    if (const auto& field = store.frame(frame)[parity];
                        i < field.size() && field[i].step_variance < most_variance)
                        steps.push_back(field[i].place_px - field[i - 1].place_px);
                if (steps.size() < fewest) continue;
                const double step = dsp::quantile_in_place(std::span<float>(steps), 0.5);
                squares += step * step, ++count;
            }
        }
    if (count >= fewest_lines) out.lasting_px = std::sqrt(squares / count / 2);
}

}  // namespace

TimeBaseSums time_base_sums(const DisplacementStore& store, std::size_t end) {
    TimeBaseSums out;
    if (!store.has_edges()) {
        add_varying(store, end, out);
        add_lasting(store, end, out);
        return out;
    }
    std::optional<SceneAgreement> agreement;
    add_places(store, end, agreement, out);
    add_jitter(store, end, agreement ? &*agreement : nullptr, out);
    join_with_jitter(out);
    add_rough(store, end, out);
    out.flagging_px = flagging(store);
    return out;
}

}  // namespace guardband::measure
