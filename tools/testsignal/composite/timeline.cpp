#include "testsignal/composite/timeline.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "testsignal/gaussian_noise.h"

namespace guardband::testsignal {
namespace {

constexpr double turn = 2 * std::numbers::pi;
constexpr std::uint64_t jitter_stream = 11;

std::int64_t parts_in_billion(double ppm) { return std::llround(ppm * 1000); }

/// 10⁹/(1 + ppm) to the next whole number, less 10⁹: what a rate in the denominator is scaled by.
std::int64_t inverse_parts(double ppm) { return std::llround((1 / (1 + ppm * 1e-6) - 1) * 1e9); }

}  // namespace

Timeline::Timeline(const CompositeRecipe& r) : recipe_(r), pattern_(r.system) {
    const CompositeSystem& s = r.system;
    const std::int64_t clock = parts_in_billion(r.sampling.clock_error_ppm);
    const std::int64_t faster = clock + inverse_parts(r.line_rate_error_ppm);
    samples_per_line_ = ExactRamp::ratio(r.sampling.rate_hz, s.line_rate_hz, faster);
    samples_per_us_ = samples_per_line_.value() / s.line_us;
    line_us_ = s.line_us;
    if (s.subcarrier_hz) {
        const std::int64_t off = parts_in_billion(r.subcarrier_error_ppm);
        turns_per_line_ = ExactRamp::ratio(*s.subcarrier_hz, s.line_rate_hz, off);
        turns_per_us_ = turns_per_line_.value() / line_us_;
        crystal_turns_per_sample_ = ExactRamp::ratio(*s.subcarrier_hz, r.sampling.rate_hz, off - clock);
    }
    // Sample 0 shows the place `start_line`; the edge of line 0 (line 1 of frame 0) would be this many samples before.
    const double lines_before = r.start_line - 1;
    const auto whole = static_cast<std::int64_t>(std::floor(lines_before));
    first_line_ = whole + r.start_frame * s.lines;
    origin_ = (lines_before - static_cast<double>(whole)) * samples_per_line_.value();
    margin_us_ = s.front_porch_us / 2;
    sample_count_ = std::llround(r.duration_s * r.sampling.rate_hz.value());
}

double Timeline::switch_half_line(std::int64_t field) const {
    return static_cast<double>(pattern_.broad_start(field)) - 2 * recipe_.time_base.head_switch_line.value_or(0);
}

double Timeline::random_ns(std::int64_t line) const {
    if (recipe_.time_base.random_ns == 0) return 0;
    Random random(mixed_seed(recipe_.seed, jitter_stream, static_cast<std::uint64_t>(line)));
    return recipe_.time_base.random_ns * random.gaussian();
}

double Timeline::step_ns(double half_line, bool before_switch) const {
    const CompositeTimeBase& t = recipe_.time_base;
    if (!t.head_switch_line || t.head_switch_steps_us.empty()) return 0;
    std::int64_t field = pattern_.field_of(static_cast<std::int64_t>(std::floor(half_line))) + 1;
    while (switch_half_line(field) > half_line || (before_switch && switch_half_line(field) == half_line)) --field;
    const auto count = static_cast<std::int64_t>(t.head_switch_steps_us.size());
    const double step = t.head_switch_steps_us[static_cast<std::size_t>(((field % count) + count) % count)];
    return 1e3 * step * (1 - (half_line - switch_half_line(field)) / recipe_.system.lines);
}

double Timeline::flagging_ns(double half_line, bool before_switch) const {
    const CompositeTimeBase& t = recipe_.time_base;
    if (t.flagging_ns == 0) return 0;
    std::int64_t field = pattern_.field_of(static_cast<std::int64_t>(std::floor(half_line))) + 1;
    while (switch_half_line(field) > half_line || (before_switch && switch_half_line(field) == half_line)) --field;
    const double first = static_cast<double>(pattern_.broad_start(field)) - recipe_.system.equalising +
                         2.0 * recipe_.system.blanked_lines;
    return t.flagging_ns * std::exp(-std::max(0.0, half_line - first) / (2 * t.flagging_lines));
}

/// Displacement at a place between lines, what is random left out.
double Timeline::lateness_ns(double half_line, bool before_switch) const {
    const CompositeTimeBase& t = recipe_.time_base;
    double ns = step_ns(half_line, before_switch) + flagging_ns(half_line, before_switch);
    const double time_s = half_line / 2 * line_us_ * 1e-6;
    for (std::size_t i = 0; i < t.sine_ns.size(); ++i) ns += t.sine_ns[i] * std::sin(turn * t.sine_hz[i] * time_s);
    return ns;
}

double Timeline::displacement_ns(std::int64_t line) const {
    return lateness_ns(2.0 * static_cast<double>(line), false) + random_ns(line);
}

double Timeline::displaced_samples(double half_line, bool before_switch) const {
    return lateness_ns(half_line, before_switch) * 1e-3 * samples_per_us_;
}

double Timeline::edge_sample(std::int64_t line) const {
    const std::int64_t n = line - first_line_;
    return static_cast<double>(samples_per_line_.whole(n)) + samples_per_line_.rest(n) - origin_ +
           displacement_ns(line) * 1e-3 * samples_per_us_;
}

/// The samples from one place on a line to another, displaced straight from one end of the line to the other.
LineRun Timeline::run_between(std::int64_t line, double from_us, double to_us, double late_at_start,
                              double late_at_end) const {
    const std::int64_t n = line - first_line_;
    const double begin = samples_per_line_.rest(n) - origin_ + late_at_start;
    const double length = samples_per_line_.value() + late_at_end - late_at_start;
    const double samples_per_us = length / line_us_;
    const std::int64_t whole = samples_per_line_.whole(n);
    const auto first = static_cast<std::int64_t>(std::ceil(begin + from_us * samples_per_us));
    const auto end = static_cast<std::int64_t>(std::ceil(begin + to_us * samples_per_us));
    return {line, whole + first, static_cast<int>(end - first), (static_cast<double>(first) - begin) / samples_per_us,
            1 / samples_per_us};
}

std::vector<LineRun> Timeline::runs(std::int64_t line) const {
    const double start = 2.0 * static_cast<double>(line), end = start + 2;
    const double here = random_ns(line) * 1e-3 * samples_per_us_, next = random_ns(line + 1) * 1e-3 * samples_per_us_;
    const double before = displaced_samples(start, false) + here;
    std::vector<LineRun> runs;
    const double upto_us = line_us_ - margin_us_;
    double at = end;
    if (recipe_.time_base.head_switch_line) {
        const std::int64_t field = pattern_.field_of(static_cast<std::int64_t>(end)) + 1;
        for (std::int64_t f = field - 1; f <= field; ++f)
            if (switch_half_line(f) > start && switch_half_line(f) < end) at = switch_half_line(f);
    }
    if (at >= end) {
        runs.push_back(run_between(line, -margin_us_, upto_us, before, displaced_samples(end, true) + next));
    } else {
        const double share = (at - start) / 2, at_us = share * line_us_;
        // Each side is straight through the end that it has and the switch.
        const double low = displaced_samples(at, true) + here + share * (next - here);
        const double high = displaced_samples(at, false) + here + share * (next - here);
        const double last = displaced_samples(end, true) + next;
        runs.push_back(run_between(line, -margin_us_, at_us, before, before + (low - before) / share));
        runs.push_back(run_between(line, at_us, upto_us, last - (last - high) / (1 - share), last));
    }
    return runs;
}

double Timeline::subcarrier_turns(const LineRun& run) const {
    const double base = recipe_.subcarrier_phase_deg / 360;
    if (recipe_.time_base.stable_subcarrier) return base + crystal_turns_per_sample_.rest(run.first_sample);
    return base + turns_per_line_.rest(run.line) + turns_per_us_ * run.first_us;
}

double Timeline::turns_per_sample(const LineRun& run) const {
    return recipe_.time_base.stable_subcarrier ? crystal_turns_per_sample_.value() : turns_per_us_ * run.step_us;
}

}  // namespace guardband::testsignal
