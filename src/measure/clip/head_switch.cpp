#include "measure/clip/head_switch.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "dsp/robust.h"
#include "measure/clip/switch_without_edges.h"

namespace guardband::measure {
namespace {

constexpr std::size_t zone = switch_zone;
constexpr std::size_t lines_before = 10;
/// By how much it must stand out of the others' scatter, and the least RMS step, samples: 20 ns.
constexpr double stands_out = 8, least_step_px = 0.27;
constexpr std::size_t fewest_fields = 4;
/// So many of the fields must step by half the RMS or more: it returns, and isn't something that stood there for a
/// while.
constexpr double returning_share = 0.7;
constexpr double most_errors = 6;

/// Of the fields, those at either end whose lines after the switch may have been misplaced.
constexpr double misplaced_share = 0.1;

struct Mean {
    double sum = 0, count = 0;

    void add(double value) { sum += value, ++count; }
    double value() const { return count > 0 ? sum / count : 0; }
};

/// Of fields whose steps differ, too. Those that were misplaced don't count, as long as they are few.
double error_of_mean(const std::vector<double>& steps) {
    if (steps.size() < 2) return 1e3;
    return dsp::spread(std::span<const double>(steps)) / std::sqrt(static_cast<double>(steps.size() - 1));
}

/// A line's step beyond the mean of the steps around it, so that a slope down the field is none.
double step_beyond_slope(const std::vector<StoredLine>& field, std::size_t line) {
    constexpr std::size_t reach = 3;
    const auto place = [&field](std::size_t i) { return static_cast<double>(field[i].place_px); };
    double slope = 0, count = 0;
    if (line > reach) slope += place(line - 1) - place(line - 1 - reach), count += reach;
    if (line + reach < field.size()) slope += place(line + reach) - place(line), count += reach;
    return place(line) - place(line - 1) - (count > 0 ? slope / count : 0);
}

/// Mean squared step at each line, noise taken out.
std::vector<double> squared_steps(const DisplacementStore& store, std::size_t lines) {
    std::vector<double> out(lines);
    for (std::size_t line = 1; line < lines; ++line) {
        Mean mean;
        for (std::size_t i = 0; i < store.frames(); ++i)
            for (const auto& field : store.frame(i)) {
                if (line >= field.size() || !field[line].step_known()) continue;
                const double step = step_beyond_slope(field, line);
                mean.add(step * step - static_cast<double>(field[line].step_variance));
            }
        out[line] = mean.count >= fewest_fields ? mean.value() : 0;
    }
    return out;
}

/// Whether the fields of a parity step at a line again and again: most of them by half of their RMS or more.
bool returns(const DisplacementStore& store, std::size_t parity, std::size_t line) {
    std::vector<double> steps;
    double squares = 0;
    for (std::size_t i = 0; i < store.frames(); ++i) {
        const auto& field = store.frame(i)[parity];
        if (!field[line].step_known()) continue;
        steps.push_back(std::abs(step_beyond_slope(field, line)));
        squares += steps.back() * steps.back();
    }
    if (steps.empty()) return false;
    const auto count = static_cast<double>(steps.size());
    const double rms = std::sqrt(squares / count);
    const auto stepping = std::ranges::count_if(steps, [rms](double step) { return step >= rms / 2; });
    return rms >= least_step_px && static_cast<double>(stepping) >= returning_share * count;
}

/// Mean of the placed lines from `from` to before `to`; nothing if there is none.
std::optional<double> mean_place(const std::vector<StoredLine>& field, std::size_t from, std::size_t to) {
    Mean mean;
    for (std::size_t i = from; i < to; ++i)
        if (field[i].placed()) mean.add(static_cast<double>(field[i].place_px));
    return mean.count > 0 ? std::optional(mean.value()) : std::nullopt;
}

/// The line near the bottom that stands out of the others by its mean squared step, and that step.
struct Outstanding {
    std::size_t line = 0;
    double square = 0;
};

std::optional<Outstanding> outstanding(const DisplacementStore& store, std::size_t lines) {
    const std::vector<double> steps = squared_steps(store, lines);
    // Against the lines above the zone, the top left out.
    const std::vector<double> usual(steps.begin() + static_cast<std::ptrdiff_t>(lines / 4),
                                    steps.end() - static_cast<std::ptrdiff_t>(zone));
    const double middle = dsp::median(std::span<const double>(usual));
    const double scatter = dsp::spread(std::span<const double>(usual));
    const auto found = std::max_element(steps.end() - static_cast<std::ptrdiff_t>(zone), steps.end());
    if (*found - middle < stands_out * scatter || *found < least_step_px * least_step_px || *found < 2 * middle)
        return std::nullopt;
    return Outstanding{static_cast<std::size_t>(found - steps.begin()), *found};
}

/// By how much each field of a parity steps: the mean of all lines from a line on less that of those before.
std::vector<double> steps_of_means(const DisplacementStore& store, std::size_t parity, std::size_t line) {
    std::vector<double> out;
    for (std::size_t i = 0; i < store.frames(); ++i) {
        const auto& field = store.frame(i)[parity];
        const auto after = mean_place(field, line, field.size());
        const auto before = mean_place(field, line - lines_before, line);
        if (after && before) out.push_back(*after - *before);
    }
    return out;
}

std::optional<HeadSwitch> find_switch_by_edges(const DisplacementStore& store, std::size_t lines) {
    const auto found = outstanding(store, lines);
    if (!found || (!returns(store, 0, found->line) && !returns(store, 1, found->line))) return std::nullopt;
    HeadSwitch out;
    Mean by_size;
    double fields = 0, sum = 0, variance = 0;
    bool sure = false;  // the step of either parity stands out of its scatter
    for (std::size_t parity = 0; parity < 2; ++parity) {
        const std::vector<double> all = steps_of_means(store, parity, found->line);
        if (all.empty()) continue;
        for (const double step : all) by_size.add(step * step);
        const auto count = static_cast<double>(all.size());
        const double step = dsp::trimmed_mean(all, misplaced_share), error = error_of_mean(all);
        out.step_by_parity_px[parity] = step;
        sure = sure || std::abs(step) > most_errors * error;
        fields += count, sum += count * step, variance += count * count * error * error;
    }
    // One line alone, such as a dropout that returns, is no switch: what follows must stay where it stepped to.
    if (!sure || fields < static_cast<double>(fewest_fields) || by_size.value() < found->square / 16)
        return std::nullopt;
    out.lines = static_cast<double>(lines - found->line);
    out.lines_error = line_of_switch_error;
    out.step_px = sum / fields;
    out.step_error_px = std::sqrt(variance) / fields + 0.03;  // 2 ns: what edges err by alike in all fields
    return out;
}

}  // namespace

std::optional<HeadSwitch> find_head_switch(const DisplacementStore& store) {
    const std::size_t lines = std::min(store.lines(0), store.lines(1));
    if (lines < 4 * zone || 2 * store.frames() < fewest_fields) return std::nullopt;
    return store.has_edges() ? find_switch_by_edges(store, lines) : find_switch_without_edges(store);
}

}  // namespace guardband::measure
