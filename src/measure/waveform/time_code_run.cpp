#include "measure/waveform/time_code_run.h"

#include <fmt/format.h>

#include <cmath>

#include "quantity/errors.h"

namespace guardband::measure {
namespace {

constexpr std::size_t most_events = 1000;
constexpr double reach_frames = 0.5;
constexpr double finest_frames = 0.02;  ///< lines that went by before the count of lines had begun

}  // namespace

std::optional<double> TimeCodeRun::number_of(const calc::TimeCode& code) const {
    try {
        return static_cast<double>(calc::frame_of(code, rate(code.drop), "time code"));
    } catch (const quantity::InputError&) {  // a label that drop-frame count skips
        return std::nullopt;
    }
}

bool TimeCodeRun::runs_on(const Reading& from, const Reading& to) const {
    const auto day = static_cast<double>(rate(from.code.drop).frames_per_day());
    const double off = (to.number - from.number) - (to.frames - from.frames);
    return std::abs(off - day * std::round(off / day)) < reach_frames;
}

void TimeCodeRun::see(const calc::TimeCode& code, double frames, bool second_field, double time_s) {
    const auto number = number_of(code);
    if (!number) {
        ++strays_;
        return;
    }
    const Reading here{*number, frames, time_s, code};
    Run& run = runs_.at(second_field ? 1 : 0);
    if (run.from && runs_on(*run.from, here)) {
        last_ = code;
        if (run.candidate) ++strays_;
        run.candidate.reset();
        return;
    }
    if (!run.candidate || !runs_on(*run.candidate, here)) {
        if (run.candidate) ++strays_;
        run.candidate = here;
        return;
    }
    if (!first_) first_ = run.candidate->code;
    if (run.from) {
        add_jump(*run.from, *run.candidate);
        runs_.at(second_field ? 0 : 1) = {};  // the other kind's jump is the same one
    }
    run.from = run.candidate;
    run.candidate.reset();
    last_ = code;
}

void TimeCodeRun::add_jump(const Reading& from, const Reading& to) {
    ++jumps_;
    if (events_.size() >= most_events) return;
    const calc::TimeCodeRate& counted = rate(from.code.drop);
    const auto day = counted.frames_per_day();
    const auto due = static_cast<std::int64_t>(std::lround(from.number + to.frames - from.frames));
    quantity::Event event;
    event.kind = "time code jumps";
    event.severity = quantity::Severity::Note;
    event.time_s = to.time_s;
    event.frame = static_cast<std::int64_t>(to.frames + finest_frames);
    event.what = fmt::format("time code jumps to {} where {} is due", calc::to_string(to.code),
                             calc::to_string(calc::time_code_of((due % day + day) % day, counted)));
    events_.push_back(event);
}

std::string TimeCodeRun::words() const {
    std::string how = jumps_ == 0 ? "without a jump" : jumps_ == 1 ? "one jump" : fmt::format("{} jumps", jumps_);
    if (strays_ > 0) how += fmt::format(", {} out of sequence", strays_);
    return fmt::format("{} to {}, {}", calc::to_string(*first_), calc::to_string(*last_), how);
}

}  // namespace guardband::measure
