#include "measure/pulses/pulse_train.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

constexpr std::size_t median_reach = 7;  ///< intervals to either side
constexpr double jump_share = 0.125;     ///< two speeds of one format differ by a third or more
constexpr std::size_t least_pulses = 8;  ///< of a stretch
constexpr double longest_gap_s = 2, longest_gap_periods = 20;
constexpr double regular_reach = 0.2;
constexpr double place_reach = 0.25;  ///< of a period
constexpr double period_gain = 0.02;  ///< follows a wander over some fifty pulses
constexpr double detrend_s = 10;
constexpr std::size_t parabola_terms = 3;
constexpr std::size_t tenths = 10;
constexpr double most_filled = 1000;  ///< periods of one absence in the series of speeds: it bounds memory
constexpr std::size_t most_moments = 100;

std::vector<double> intervals_of(std::span<const double> times) {
    std::vector<double> intervals;
    for (std::size_t i = 1; i < times.size(); ++i) intervals.push_back(times[i] - times[i - 1]);
    return intervals;
}

std::vector<double> running_median(const std::vector<double>& values) {
    std::vector<double> medians;
    medians.reserve(values.size());
    for (std::size_t i = 0; i < values.size(); ++i) {
        const std::size_t from = i - std::min(i, median_reach), to = std::min(values.size(), i + median_reach + 1);
        medians.push_back(dsp::median(std::span(values).subspan(from, to - from)));
    }
    return medians;
}

bool same_rate(double a, double b) { return std::abs(std::log(a / b)) < jump_share; }

/// Which interval is the first of the second of two rates, near one where the median has jumped.
std::size_t boundary_near(const std::vector<double>& intervals, std::size_t near, double before_s, double after_s) {
    const std::size_t from = near - std::min(near, median_reach + 1);
    const std::size_t to = std::min(intervals.size(), near + median_reach + 2);
    const auto cost = [&](std::size_t i, double period) {
        return std::min(1.0, std::abs(std::log(std::max(intervals[i], 1e-12) / period)));
    };
    double running = 0;
    for (std::size_t i = from; i < to; ++i) running += cost(i, after_s);
    double best = running;
    std::size_t place = from;
    for (std::size_t i = from; i < to; ++i) {
        running += cost(i, before_s) - cost(i, after_s);
        if (running < best) best = running, place = i + 1;
    }
    return place;
}

struct Range {
    std::size_t first, last;  ///< pulses, both included
    double period_s;
};

/// Stretches of one rate. Where the rate changes, the pulse between both belongs to the earlier one.
std::vector<Range> ranges_of(std::span<const double> times, const std::vector<double>& intervals,
                             const std::vector<double>& medians) {
    std::vector<Range> ranges;
    std::size_t first = 0;
    double period = medians.front();
    const auto end_at = [&](std::size_t last) {
        if (last >= first + least_pulses - 1) ranges.push_back({first, last, period});
    };
    for (std::size_t i = 1; i < intervals.size(); ++i) {
        const bool gap = intervals[i] > std::max(longest_gap_s, longest_gap_periods * period);
        if (gap) {
            end_at(i);
            first = i + 1;
            period = medians[std::min(i + 1 + median_reach, medians.size() - 1)];
        } else if (!same_rate(medians[i], period)) {
            const std::size_t settled = std::min(i + median_reach, medians.size() - 1);
            if (same_rate(medians[settled], period)) continue;  // a knot of faults, not a change
            const std::size_t at = std::max(first, boundary_near(intervals, i, period, medians[settled]));
            end_at(at);
            first = at;
            period = medians[settled];
        } else {
            period += period_gain * (medians[i] - period);
        }
    }
    end_at(times.size() - 1);
    for (Range& range : ranges) {
        const std::size_t from = std::min(range.first, intervals.size() - 1);
        range.period_s =
            dsp::median(std::span(intervals).subspan(from, std::max<std::size_t>(1, range.last - range.first)));
    }
    return ranges;
}

/// A pulse at its place in the regular series.
struct Placed {
    double number, time_s;
};

void note(std::vector<double>& moments, double time_s) {
    if (moments.size() < most_moments) moments.push_back(time_s);
}

/// The first pulse whose successor comes after one period: faults may stand in front of it.
std::size_t first_regular(std::span<const double> times, double period_s) {
    for (std::size_t i = 0; i + 1 < times.size() && i < 3; ++i)
        if (std::abs((times[i + 1] - times[i]) / period_s - 1) < place_reach) return i;
    return 0;
}

std::vector<Placed> place(std::span<const double> times, double period_s, PulseStretch& stretch) {
    const std::size_t start = first_regular(times, period_s);
    stretch.extra = static_cast<std::int64_t>(start);
    std::vector<Placed> placed{{0, times[start]}};
    for (std::size_t i = start + 1; i < times.size(); ++i) {
        const Placed& last = placed.back();
        const double steps = (times[i] - last.time_s) / period_s, whole = std::round(steps);
        const double off = std::abs(steps - whole);
        const bool next_is_nearer =
            i + 1 < times.size() && std::abs((times[i + 1] - last.time_s) / period_s - whole) < off;
        // Over a long absence the period's own error adds up.
        if (whole < 1 || off > place_reach || next_is_nearer) {
            ++stretch.extra;
            note(stretch.extra_s, times[i]);
            continue;
        }
        for (double k = 1; k < whole; ++k) note(stretch.missing_s, last.time_s + k * (times[i] - last.time_s) / whole);
        stretch.missing += static_cast<std::int64_t>(whole) - 1;
        period_s += period_gain * ((times[i] - last.time_s) / whole - period_s);
        placed.push_back({last.number + whole, times[i]});
    }
    return placed;
}

struct Line {
    double start_s = 0, period_s = 0;
    double rest(const Placed& p) const { return p.time_s - start_s - period_s * p.number; }
};

Line fit(std::span<const Placed> placed) {
    double numbers = 0, times = 0;
    const auto count = static_cast<double>(placed.size());
    for (const Placed& p : placed) numbers += p.number / count, times += p.time_s / count;
    double products = 0, squares = 0;
    for (const Placed& p : placed) {
        products += (p.number - numbers) * (p.time_s - times);
        squares += (p.number - numbers) * (p.number - numbers);
    }
    const double period = squares > 0 ? products / squares : 0;
    return {times - period * numbers, period};
}

/// How many of the displacements are as good as independent: all if they are white.
double independent_count(std::span<const Placed> placed, const Line& line) {
    const auto count = static_cast<double>(placed.size());
    double all = 0, means = 0;
    for (std::size_t t = 0; t < tenths; ++t) {
        const std::size_t from = placed.size() * t / tenths, to = placed.size() * (t + 1) / tenths;
        double sum = 0;
        for (std::size_t i = from; i < to; ++i) {
            const double rest = line.rest(placed[i]);
            sum += rest;
            all += rest * rest / count;
        }
        if (to > from) means += std::pow(sum / static_cast<double>(to - from), 2) / tenths;
    }
    return means > 0 ? std::min(count, tenths * all / means) : count;
}

void add_rate(PulseStretch& stretch, std::span<const Placed> placed) {
    const Line line = fit(placed);
    double squares = 0;
    for (const Placed& p : placed) squares += std::pow(line.rest(p), 2);
    const double rms = std::sqrt(squares / static_cast<double>(placed.size() - 2));
    const double span_s = stretch.end_s - stretch.start_s;
    stretch.rate_hz = 1 / line.period_s;
    stretch.rate_uncertainty_hz = stretch.rate_hz * rms * std::sqrt(12 / independent_count(placed, line)) / span_s;
}

/// What is left of the displacements when the best parabola is taken away: the sum of its squares.
double squares_about_parabola(std::span<const Placed> part) {
    const Line line = fit(part);
    const auto count = static_cast<double>(part.size());
    double middle = 0, spread = 0, skew = 0;
    for (const Placed& p : part) middle += p.number / count;
    for (const Placed& p : part) spread += std::pow(p.number - middle, 2) / count;
    for (const Placed& p : part) skew += std::pow(p.number - middle, 3) / count;
    double squares = 0, products = 0, norm = 0;
    for (const Placed& p : part) {
        const double off = p.number - middle;
        const double bow = off * off - spread - skew / spread * off;  // at right angles to a straight line
        squares += std::pow(line.rest(p), 2);
        products += line.rest(p) * bow;
        norm += bow * bow;
    }
    return std::max(0.0, squares - (norm > 0 ? products * products / norm : 0));
}

void add_jitter(PulseStretch& stretch, std::span<const Placed> placed) {
    const double span_s = stretch.end_s - stretch.start_s;
    const auto parts = static_cast<std::size_t>(std::ceil(span_s / detrend_s));
    double squares = 0, count = 0;
    for (std::size_t k = 0; k < parts; ++k) {
        const std::size_t from = placed.size() * k / parts, to = placed.size() * (k + 1) / parts;
        if (to - from <= parabola_terms) continue;
        squares += squares_about_parabola(placed.subspan(from, to - from));
        count += static_cast<double>(to - from - parabola_terms);
    }
    if (count <= 0) return;
    stretch.jitter_s = std::sqrt(squares / count);
    stretch.jitter_uncertainty_s = stretch.jitter_s / std::sqrt(2 * count);
}

/// What timing to whole steps adds: both ends of the stretch lie anywhere in theirs, and so may every pulse.
void add_step(PulseStretch& stretch, double step_s) {
    const double span_s = stretch.end_s - stretch.start_s, rounding_s = step_s / std::sqrt(12.0);
    stretch.rate_uncertainty_hz =
        std::hypot(stretch.rate_uncertainty_hz, stretch.rate_hz * std::numbers::sqrt2 * rounding_s / span_s);
    const double free_of_it = std::sqrt(std::max(0.0, stretch.jitter_s * stretch.jitter_s - rounding_s * rounding_s));
    const double share_s = stretch.jitter_s > rounding_s ? stretch.jitter_s - free_of_it : rounding_s;
    stretch.jitter_uncertainty_s = std::hypot(stretch.jitter_uncertainty_s, share_s);
}

/// Speed period by period; a missing pulse's two periods share the mean.
void add_speed(PulseStretch& stretch, std::span<const Placed> placed) {
    for (std::size_t i = 1; i < placed.size(); ++i) {
        const double steps = placed[i].number - placed[i - 1].number;
        const double period = (placed[i].time_s - placed[i - 1].time_s) / steps;
        const auto speed = static_cast<float>(1 / (stretch.rate_hz * period) - 1);
        stretch.speed.insert(stretch.speed.end(), static_cast<std::size_t>(std::min(steps, most_filled)), speed);
    }
}

PulseStretch measured(std::span<const double> times, double period_s) {
    PulseStretch stretch;
    const std::vector<Placed> placed = place(times, period_s, stretch);
    stretch.start_s = placed.front().time_s;
    stretch.end_s = placed.back().time_s;
    stretch.pulses = static_cast<std::int64_t>(placed.size());
    if (placed.size() < 3) return stretch;
    add_rate(stretch, placed);
    add_jitter(stretch, placed);
    add_speed(stretch, placed);
    return stretch;
}

}  // namespace

PulseTrain follow_pulses(std::span<const double> times_s, double step_s) {
    PulseTrain train;
    if (times_s.size() < least_pulses) return train;
    const std::vector<double> intervals = intervals_of(times_s);
    const std::vector<double> medians = running_median(intervals);
    std::size_t regular = 0;
    for (std::size_t i = 0; i < intervals.size(); ++i)
        regular += std::abs(intervals[i] / medians[i] - 1) < regular_reach ? 1 : 0;
    train.regular_share = static_cast<double>(regular) / static_cast<double>(intervals.size());
    for (const Range& range : ranges_of(times_s, intervals, medians)) {
        PulseStretch stretch = measured(times_s.subspan(range.first, range.last - range.first + 1), range.period_s);
        if (!(stretch.rate_hz > 0)) continue;
        add_step(stretch, step_s);
        train.stretches.push_back(std::move(stretch));
    }
    return train;
}

}  // namespace guardband::measure
