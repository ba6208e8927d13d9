#include "measure/waveform/time_code_run.h"

#include <fmt/format.h>

#include <cmath>

#include "quantity/errors.h"

namespace guardband::measure {
namespace {

constexpr std::size_t most_events = 1000;
/// A frame's label may begin with either field, and count as early or late by half a frame.
constexpr double reach_frames = 0.75;

}  // namespace

std::optional<double> TimeCodeRun::number_of(const calc::TimeCode& code) const {
    try {
        return static_cast<double>(calc::frame_of(code, rate(code.drop), "time code"));
    } catch (const quantity::InputError&) {  // a label that drop-frame count skips
        return std::nullopt;
    }
}

bool TimeCodeRun::runs_on(const Anchor& from, double number, double frames) const {
    const auto day = static_cast<double>(rate(from.code.drop).frames_per_day());
    const double off = (number - from.number) - (frames - from.frames);
    return std::abs(off - day * std::round(off / day)) < reach_frames;
}

void TimeCodeRun::see(const calc::TimeCode& code, double frames, double time_s) {
    const auto number = number_of(code);
    if (!number) return;
    const Anchor here{*number, frames, time_s, code, 1};
    if (run_ && runs_on(*run_, *number, frames)) {
        last_ = code;
        // One that stood alone so far is not made sure by what follows it later.
        if (candidate_) candidate_.reset();
        return;
    }
    if (!candidate_ || !runs_on(*candidate_, *number, frames)) {
        candidate_ = here;
        return;
    }
    if (!run_)
        first_ = candidate_->code;
    else
        add_jump(*candidate_);
    run_ = candidate_;
    candidate_.reset();
    last_ = code;
}

void TimeCodeRun::add_jump(const Anchor& to) {
    ++jumps_;
    if (events_.size() >= most_events) return;
    const calc::TimeCodeRate& counted = rate(run_->code.drop);
    const auto day = counted.frames_per_day();
    const auto due = static_cast<std::int64_t>(std::floor(run_->number + to.frames - run_->frames));
    quantity::Event event;
    event.kind = "time code jumps";
    event.severity = quantity::Severity::Note;
    event.time_s = to.time_s;
    event.frame = static_cast<std::int64_t>(to.frames);
    event.what = fmt::format("time code jumps to {} where {} is due", calc::to_string(to.code),
                             calc::to_string(calc::time_code_of((due % day + day) % day, counted)));
    events_.push_back(event);
}

}  // namespace guardband::measure
