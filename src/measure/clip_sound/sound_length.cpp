#include "measure/clip_sound/sound_length.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "measure/stamp_evidence.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr double shortest_gap_s = 2e-3, longest_gap_s = 2;
/// Time stamps of sound may be off by a container's rounding and a codec's frame.
constexpr double tolerated_jump_s = 0.02;
constexpr float loud = 1e-3F;
constexpr double fading_s = 5e-3;

void add_events(const EventLog& log, const char* what, std::vector<quantity::Event>& events) {
    for (const Occurrence& one : log.all()) {
        quantity::Event event;
        event.kind = "sound gap";
        event.severity = quantity::Severity::Fault;
        event.time_s = one.time_s;
        event.count = one.count;
        event.what = fmt::format("{} for {:.0f} ms", what, 1e3 * one.largest);
        events.push_back(std::move(event));
    }
}

}  // namespace

void SoundLength::see(const media::Frame& frame, const FrameFeatures&) {
    if (!frame.pts) return;
    const double time_s = static_cast<double>(*frame.pts) * context_.info.time_base.value();
    if (!first_frame_s_) first_frame_s_ = time_s;
    last_frame_s_ = std::max(last_frame_s_.value_or(time_s), time_s);
}

void SoundLength::look_at_stamp(const media::SoundBlock& block) {
    const double rate = context_.info.sound->sample_rate_hz;
    const double length_s = static_cast<double>(block.channels.front().size()) / rate;
    if (!block.stamp_s) {
        if (sound_end_s_) *sound_end_s_ += length_s;
        return;
    }
    if (!first_sound_s_) first_sound_s_ = block.stamp_s;
    if (sound_end_s_ && *block.stamp_s > *sound_end_s_ + tolerated_jump_s)
        lost_.note(samples_, *sound_end_s_ - *first_sound_s_, 1, *block.stamp_s - *sound_end_s_);
    sound_end_s_ = *block.stamp_s + length_s;
}

/// A run of nothing ends at this sample, where there is sound again.
void SoundLength::end_of_silence(std::int64_t at) {
    const double rate = context_.info.sound->sample_rate_hz;
    const double length_s = static_cast<double>(at - silent_since_) / rate;
    if (has_begun_ && began_loud_ && length_s >= shortest_gap_s && length_s <= longest_gap_s)
        silences_.note(at, static_cast<double>(silent_since_) / rate, 1, length_s);
    silent_since_ = -1;
}

void SoundLength::look_for_silence(const media::SoundBlock& block) {
    const std::size_t count = block.channels.front().size();
    const auto fade = static_cast<float>(std::exp(-1 / (fading_s * context_.info.sound->sample_rate_hz)));
    for (std::size_t n = 0; n < count; ++n) {
        float largest = 0;
        for (const auto& channel : block.channels) largest = std::max(largest, std::abs(channel[n]));
        const std::int64_t at = samples_ + static_cast<std::int64_t>(n);
        if (largest == 0) {
            if (silent_since_ < 0) silent_since_ = at, began_loud_ = level_ > loud;
            continue;
        }
        if (silent_since_ >= 0) end_of_silence(at);
        has_begun_ = true;
        level_ = std::max(largest, level_ * fade);
    }
}

void SoundLength::hear(const media::SoundBlock& block) {
    look_at_stamp(block);
    look_for_silence(block);
    samples_ += static_cast<std::int64_t>(block.channels.front().size());
}

Figure SoundLength::difference() const {
    if (!context_.info.read_whole) return Figure::unknown("only a part of the clip was read");
    const auto rate = context_.stamps.frame_rate();
    if (!first_frame_s_ || !rate || rate->hz <= 0)
        return Figure::unknown("the length of the pictures is not known without time stamps and a frame rate");
    const double sound_rate = context_.info.sound->sample_rate_hz;
    const double sound_s =
        first_sound_s_ ? *sound_end_s_ - *first_sound_s_ : static_cast<double>(samples_) / sound_rate;
    const double picture_s = *last_frame_s_ - *first_frame_s_ + 1 / rate->hz;
    // Four stamps, each rounded to a tick.
    const double uncertainty_s = context_.info.time_base.value() * std::sqrt(4.0 / 12);
    Figure figure = Figure::measured(1e3 * (sound_s - picture_s), 1e3 * uncertainty_s, "ms");
    if (first_sound_s_) {
        const double later_ms = 1e3 * (*first_sound_s_ - *first_frame_s_);
        if (std::abs(later_ms) >= 1)
            figure.with_note(fmt::format("the sound begins {:.0f} ms {} the pictures", std::abs(later_ms),
                                         later_ms > 0 ? "after" : "before"));
    }
    return figure;
}

void SoundLength::finish(quantity::Figures& figures, std::vector<quantity::Event>& events) {
    std::string reason = without_sound(context_.info);
    if (reason.empty() && samples_ == 0) reason = "none of its sound could be decoded";
    if (!reason.empty()) {
        figures.add("sound_gaps", Figure::unknown(reason));
        figures.add("sound_picture_difference", Figure::unknown(reason));
        return;
    }
    figures.add("sound_gaps", Figure::counted(lost_.total() + silences_.total()));
    add_events(lost_, "the time stamps leave sound out", events);
    add_events(silences_, "the sound stops", events);
    figures.add("sound_picture_difference", difference());
}

}  // namespace guardband::measure
