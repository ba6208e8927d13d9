#include "measure/clip/switch_without_edges.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "dsp/robust.h"
#include "measure/clip/lone_steps.h"
#include "measure/clip/usual_step.h"

namespace guardband::measure {
namespace {

/// Outlines that slant and stay fake steps: of up to 1.2 samples on moving pictures without a switch.
constexpr double least_step_px = 2;
/// By how much it must stand out of the others' scatter, and of the largest step elsewhere: outlines that fake a step
/// at one line do so at others, too.
constexpr double stands_out = 8, stands_alone = 2;
/// Of the fields, those that must have the step, so that it isn't something that stood there for a while; by the whole
/// line and by either part.
constexpr double least_share = 0.5, least_part_share = 0.25;
/// By how much the parts of a line may differ, of the smaller one's step.
constexpr double most_apart = 0.3;
/// Of the step, what must be left of it on average at the lines after the switch, and how far what its neighbours
/// explain may change it.
constexpr double least_left = 0.5, most_explained = 0.5;

/// The usual steps of the fields of a parity.
struct FieldSteps {
    std::vector<double> px;     ///< by the whole line; not a number where too few fields show any
    std::vector<double> seen;   ///< what most fields have and both parts of a line agree on; else 0
    std::vector<double> apart;  ///< half of what both parts differ by; likewise

    double middle = 0, spread = 0;  ///< of `px` of the lines that are the rule
};

/// The lines of a field whose steps are the rule.
struct Rule {
    std::size_t first = 0, end = 0;
    explicit Rule(std::size_t lines) : first(lines / 4), end(lines - switch_zone) {}
};

double agreed(const UsualStep& left, const UsualStep& right) {
    if (left.share < least_part_share || right.share < least_part_share || left.px * right.px <= 0) return 0;
    const double less = std::min(std::abs(left.px), std::abs(right.px));
    return std::abs(left.px - right.px) <= most_apart * less ? std::copysign(less, left.px) : 0;
}

/// Of the lines that are the rule, as far as they are known.
std::vector<double> usual_px(const std::vector<double>& steps) {
    const Rule rule(steps.size());
    std::vector<double> out;
    for (std::size_t i = rule.first; i < rule.end; ++i)
        if (!std::isnan(steps[i])) out.push_back(steps[i]);
    return out;
}

FieldSteps field_steps(const DisplacementStore& store, std::size_t parity) {
    const std::size_t lines = store.lines(parity);
    FieldSteps out;
    std::vector<double> shares;
    for (std::size_t i = 0; i < lines; ++i) {
        const UsualStep whole = usual_step(store, parity, i, &SeenStep::px);
        out.px.push_back(whole.px), shares.push_back(whole.share);
    }
    out.seen.assign(lines, 0), out.apart.assign(lines, 0);
    const std::vector<double> usual = usual_px(out.px);
    if (usual.empty()) return out;
    out.middle = dsp::median(std::span<const double>(usual)), out.spread = dsp::spread(std::span<const double>(usual));
    for (std::size_t i = 0; i < lines; ++i) {
        // What hardly steps is neither a switch nor like one.
        if (shares[i] < least_share || std::abs(out.px[i] - out.middle) < least_step_px / 2) continue;
        const UsualStep left = usual_step(store, parity, i, &SeenStep::left_px);
        const UsualStep right = usual_step(store, parity, i, &SeenStep::right_px);
        out.seen[i] = agreed(left, right);
        if (out.seen[i] != 0) out.apart[i] = (left.px - right.px) / 2;
    }
    return out;
}

/// Of the lines from `first` on but `at` and those beside it.
double largest_elsewhere(const std::vector<double>& seen, std::size_t first, std::size_t at) {
    double largest = 0;
    for (std::size_t line = first; line < seen.size(); ++line)
        if (line + 1 < at || line > at + 1) largest = std::max(largest, std::abs(seen[line]));
    return largest;
}

/// The line of the zone where both parts step most, but for the last one, after which nothing shows that it stays.
std::size_t largest_of_zone(const std::array<FieldSteps, 2>& fields, std::size_t lines) {
    std::size_t best = lines - switch_zone;
    double most = 0;
    for (std::size_t line = best; line + 1 < lines; ++line) {
        const double seen = std::max(std::abs(fields[0].seen[line]), std::abs(fields[1].seen[line]));
        if (seen > most) most = seen, best = line;
    }
    return best;
}

/// Whether a field's lines after a step stay where they stepped to: on average, as far as they can be followed.
bool stays(const std::vector<double>& steps, std::size_t at, double middle) {
    double place = steps[at] - middle, sum = place, count = 1;
    for (std::size_t i = at + 1; i < steps.size(); ++i) {
        if (std::isnan(steps[i])) continue;
        place += steps[i] - middle, sum += place, ++count;
    }
    return sum / count / (steps[at] - middle) >= least_left;
}

/// Whether the fields of a parity switch at a line. @param step  there, beyond what the lines around let expect
bool switches(const FieldSteps& field, std::size_t at, double step_px) {
    if (field.seen[at] == 0) return false;
    const Rule rule(field.px.size());
    const double least = std::max(least_step_px, stands_out * field.spread);
    return std::abs(field.seen[at]) >= std::max(least, stands_alone * largest_elsewhere(field.seen, rule.first, at)) &&
           std::abs(step_px) >= least && std::abs(step_px - field.px[at]) <= most_explained * std::abs(field.px[at]) &&
           stays(field.px, at, field.middle);
}

}  // namespace

std::optional<HeadSwitch> find_switch_without_edges(const DisplacementStore& store) {
    if (store.lines(0) != store.lines(1)) return std::nullopt;
    const std::size_t lines = store.lines(0);
    const std::array<FieldSteps, 2> fields{field_steps(store, 0), field_steps(store, 1)};
    const std::size_t at = largest_of_zone(fields, lines);
    const Rule rule(lines);
    const auto steps = lone_steps({fields[0].px, fields[1].px}, at, rule.first, rule.end);
    if (!steps) return std::nullopt;
    HeadSwitch out;
    bool found = false;
    for (std::size_t parity = 0; parity < 2; ++parity) {
        const Estimated& step = (*steps)[parity];
        found = found || switches(fields[parity], at, step.value);
        out.step_by_parity_px[parity] = step.value;
        out.step_px += step.value / 2;
        out.step_error_px += std::hypot(step.error, fields[parity].apart[at]) / 2;  // the same outlines shift both
    }
    out.lines = static_cast<double>(lines - at), out.lines_error = line_of_switch_error;
    return found ? std::optional(out) : std::nullopt;
}

}  // namespace guardband::measure
