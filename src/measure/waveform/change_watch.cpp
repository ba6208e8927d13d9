#include "measure/waveform/change_watch.h"

#include <fmt/format.h>

#include <algorithm>

namespace guardband::measure {
namespace {

constexpr double look_every_s = 2, stretch_s = 0.125;
constexpr double window_s = 0.05, most_faults = 0.3;  ///< of the lines that are due
constexpr std::size_t most_events = 50;

}  // namespace

ChangeWatch::ChangeWatch(const FirstLook& first, const media::SoundInfo& info, const table::Table& table)
    : info_(info),
      table_(table),
      state_(state_of(first)),
      line_samples_(first.sync.line_samples),
      next_look_(static_cast<std::int64_t>(look_every_s * info.sample_rate_hz)) {}

ChangeWatch::State ChangeWatch::state_of(const FirstLook& look) const {
    return {true, look.sync.inverted, look.scanning, look.colour.colour};
}

std::string ChangeWatch::text_of(const State& state) const {
    if (!state.video) return "no video but " + instead_;
    std::string text = state.scanning == nullptr ? "an unknown system" : state.scanning->id;
    if (state.colour != nullptr) text += " " + state.colour->id;
    return text + (state.inverted ? ", inverted" : "");
}

/// Of the lines of a twentieth of a second, many are missing, or pulses came that are none.
bool ChangeWatch::is_in_doubt(const LineClock& clock) {
    const double due = static_cast<double>(place_ - window_start_) / line_samples_;
    if (due < window_s * info_.sample_rate_hz / line_samples_) return false;
    const std::int64_t faults = clock.lost_lines() + clock.strays() + clock.restarts();
    const auto found = static_cast<double>(clock.lines() - lines_before_);
    const bool doubt =
        found < (1 - most_faults) * due || static_cast<double>(faults - faults_before_) > most_faults * due;
    window_start_ = place_, faults_before_ = faults, lines_before_ = clock.lines();
    return doubt;
}

void ChangeWatch::see(std::span<const float> samples, const LineClock& clock) {
    const auto length = static_cast<std::size_t>(stretch_s * info_.sample_rate_hz);
    if (is_in_doubt(clock) && state_.video && stretch_.empty() &&
        place_ - last_sure_ > static_cast<std::int64_t>(length))
        next_look_ = std::min(next_look_, place_);
    if (place_ >= next_look_ || !stretch_.empty()) {
        const std::size_t taken = std::min(samples.size(), length - stretch_.size());
        stretch_.insert(stretch_.end(), samples.begin(), samples.begin() + static_cast<std::ptrdiff_t>(taken));
        if (stretch_.size() == length) look();
    }
    place_ += static_cast<std::int64_t>(samples.size());
}

void ChangeWatch::look() {
    const auto found = look_at(stretch_, info_, table_);
    State now;
    if (found) {
        now = state_of(*found);
        // A colour that could not be told is no change.
        if (found->colour.colour == nullptr && !found->colour.why.empty()) now.colour = state_.colour;
    } else {
        now.video = false;
        instead_ = describe_without_sync(stretch_);
    }
    stretch_.clear();
    const auto every = static_cast<std::int64_t>(look_every_s * info_.sample_rate_hz);
    if (now == state_) {
        other_.reset();
        last_sure_ = place_;
        next_look_ = place_ + every;
    } else if (other_ && *other_ == now) {
        note(now);
        state_ = now;
        other_.reset();
        last_sure_ = place_;
        next_look_ = place_ + every;
    } else {
        other_ = now;
        next_look_ = place_;  // once more, at once
    }
}

void ChangeWatch::note(const State& now) {
    if (events_.size() >= most_events) return;
    const double rate_hz = info_.sample_rate_hz;
    quantity::Event event;
    event.kind = "changed";
    event.severity = quantity::Severity::Warning;
    event.time_s = static_cast<double>(last_sure_) / rate_hz;
    event.what = fmt::format(
        "between {:.1f} and {:.1f} s it changes from {} to {}: measure each part by itself with "
        "--start and --duration",
        event.time_s, static_cast<double>(place_) / rate_hz, text_of(state_), text_of(now));
    events_.push_back(event);
}

}  // namespace guardband::measure
