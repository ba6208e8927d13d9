#include "measure/waveform/line_clock.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

constexpr double reach_share = 0.17;       ///< how far from where it is due a line's sync may come, of a line
constexpr double half_reach_share = 0.12;  ///< and a pulse half way between lines
constexpr double pace_share = 0.03;        ///< of a line: lines so even start the count
constexpr double pace_gain = 0.02;         ///< how fast the pace follows
constexpr int lines_to_restart = 3;
constexpr double least_line_width = 0.7, most_line_width = 1.5;  ///< of sync's width
constexpr double least_equalising_width = 0.3;
constexpr double least_broad_share = 0.25, most_broad_share = 0.55;  ///< of a line
constexpr double quiet_lines = 20;                                   ///< without broad pulses before a field starts
constexpr double few_broad_per_line = 0.0035;  ///< one in 409 lines; two and a half in 312 have more

}  // namespace

LineClock::LineClock(const SyncShape& shape, LineSink& sink)
    : sink_(sink),
      nominal_period_(shape.line_samples),
      width_(shape.width_samples),
      period_(shape.line_samples),
      one_broad_pulse_(shape.broad_per_line < few_broad_per_line) {}

PulseKind LineClock::kind_of(const SyncPulse& pulse) const {
    const double width = pulse.width();
    if (width > least_broad_share * nominal_period_ && width < most_broad_share * nominal_period_)
        return PulseKind::Broad;
    if (width > least_line_width * width_ && width < most_line_width * width_) return PulseKind::Line;
    if (width > least_equalising_width * width_ && width <= least_line_width * width_) return PulseKind::Equalising;
    return PulseKind::Stray;
}

/// Starts the count with the last of some line pulses in a row at even distances. @returns true once it has started
bool LineClock::lock(const SyncPulse& pulse, PulseKind kind) {
    if (kind != PulseKind::Line) return false;
    const bool even = candidate_ && std::abs(pulse.lead - *candidate_ - nominal_period_) < pace_share * nominal_period_;
    candidate_run_ = even ? candidate_run_ + 1 : 0;
    candidate_ = pulse.lead;
    if (candidate_run_ < lines_to_restart) return false;
    candidate_run_ = 0;
    period_ = nominal_period_;
    return true;
}

void LineClock::see(const SyncPulse& pulse, const SampleWindow& window) {
    const PulseKind kind = kind_of(pulse);
    if (kind == PulseKind::Stray) {
        ++strays_;
        return;
    }
    if (!locked_) {
        if (!lock(pulse, kind)) return;
        locked_ = true;
        const double since = number_ < 0 ? 1 : std::max(1.0, std::round((pulse.lead - last_lead_) / period_));
        take(pulse, kind, static_cast<std::int64_t>(since), window);
        return;
    }
    const double lines = (pulse.lead - last_lead_) / period_, whole = std::round(lines);
    if (kind == PulseKind::Broad) watch_field(pulse);
    if (whole >= 1 && std::abs(lines - whole) < reach_share) {
        take(pulse, kind, static_cast<std::int64_t>(whole), window);
    } else if (std::abs(lines - std::floor(lines) - 0.5) > half_reach_share) {
        ++strays_;
        if (lock(pulse, kind)) {
            ++restarts_;
            take(pulse, kind, std::max<std::int64_t>(1, static_cast<std::int64_t>(whole)), window);
        }
    }
}

void LineClock::take(const SyncPulse& pulse, PulseKind kind, std::int64_t lines, const SampleWindow& window) {
    if (number_ >= 0) {
        lost_ += lines - 1;
        const double length = (pulse.lead - last_lead_) / static_cast<double>(lines);
        if (std::abs(length - nominal_period_) < pace_share * nominal_period_)
            period_ += pace_gain * (length - period_);
        candidate_run_ = 0;
    }
    number_ += lines;
    last_lead_ = pulse.lead;
    VideoLine line;
    line.number = number_;
    line.kind = kind;
    line.sync = pulse;
    line.period = period_;
    if (field_) {
        line.field = field_;
        const double since = (pulse.lead - field_->place) / period_ - (field_->half_line ? 0.5 : 0.0);
        line.in_field = std::max(0, static_cast<int>(std::lround(since)));
    }
    sink_.see_line(line, window);
}

void LineClock::watch_field(const SyncPulse& pulse) {
    const double since = pulse.lead - last_broad_;
    const bool may_start = !field_ || pulse.lead - field_->place > quiet_lines * period_;
    if (may_start && one_broad_pulse_ && since > quiet_lines * period_)
        begin_field(pulse.lead);
    else if (may_start && !one_broad_pulse_ && std::abs(since - period_ / 2) < half_reach_share * period_)
        begin_field(last_broad_);
    last_broad_ = pulse.lead;
}

void LineClock::begin_field(double place) {
    FieldStart start;
    start.field = field_ ? field_->field + 1 : 0;
    start.place = place;
    const double lines = (place - last_lead_) / period_;
    start.half_line = std::abs(lines - std::floor(lines) - 0.5) < 0.25;
    field_ = start;
    sink_.see_field(start);
}

}  // namespace guardband::measure
