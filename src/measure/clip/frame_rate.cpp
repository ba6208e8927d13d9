#include "measure/clip/frame_rate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "measure/picture_gaps.h"

namespace guardband::measure {
namespace {

using quantity::Event;
using quantity::Figure;
using quantity::Severity;

/// A stamp further off than this share of a period and a tick is called jitter: rounding never is, and a tenth of a
/// period is far beyond what a capture's clock does.
constexpr double jitter_share = 0.1;
/// Jitter and disorder within this many frames is one event.
constexpr std::int64_t join_frames = 50;
/// Gaps kept one by one, for comparison with those that the pictures show.
constexpr std::size_t most_gaps = 10'000;
/// With fewer stamps than this in place there is no steady rate to speak of.
constexpr double least_share_placed = 0.5;
/// Stamps and pictures mean the same gap if they put it this many frames apart at most.
constexpr std::int64_t same_gap_within = 1;

std::string count_of(std::int64_t count, std::string_view singular, std::string_view plural) {
    return fmt::format("{} {}", count, count == 1 ? singular : plural);
}

Event event(std::string kind, Severity severity, const Occurrence& o, std::string what) {
    Event result;
    result.kind = std::move(kind);
    result.severity = severity;
    result.time_s = o.time_s;
    result.frame = o.frame;
    result.count = o.count;
    result.what = std::move(what);
    return result;
}

std::int64_t missing_in_all(std::span<const StampGap> by_stamps, std::span<const PictureGap> by_pictures) {
    std::int64_t missing = 0;
    for (const StampGap& gap : by_stamps) missing += gap.frames;
    for (const PictureGap& seen : by_pictures) {
        const auto same = std::ranges::find_if(
            by_stamps, [&](const StampGap& gap) { return std::abs(gap.frame - seen.frame) <= same_gap_within; });
        missing += same == by_stamps.end() ? seen.frames : std::max<std::int64_t>(0, seen.frames - same->frames);
    }
    return missing;
}

}  // namespace

FrameRate::FrameRate(const ClipContext& context)
    : context_(context),
      tick_s_(context.info.time_base.value()),
      track_(*this),
      gaps_(0),
      jitter_(join_frames),
      order_(join_frames),
      restarts_(0) {}

void FrameRate::see(const media::Frame& frame, const FrameFeatures&) {
    if (frame.pts) track_.see(frame.index, *frame.pts);
}

void FrameRate::placed(const StampPlace& place, double slot, double ticks, std::int64_t segment) {
    if (!fit_) fit_.emplace(place.period_ticks);
    fit_->add(slot, ticks, segment);
    note_off(place);
}

void FrameRate::astray(const StampPlace& place) { note_off(place); }

void FrameRate::note_off(const StampPlace& place) {
    if (place.not_after)
        order_.note(place.frame, time_s(place));
    else if (std::abs(place.off_ticks) > 1 + jitter_share * place.period_ticks)
        jitter_.note(place.frame, time_s(place), 1, place.off_ticks * tick_s_);
}

void FrameRate::gap(const StampPlace& first_after, std::int64_t frames) {
    gaps_.note(first_after.frame, time_s(first_after), frames);
    if (gap_list_.size() < most_gaps) gap_list_.push_back({first_after.frame, frames});
}

void FrameRate::restart(const StampPlace& first_after) {
    restarts_.note(first_after.frame, time_s(first_after), 1, first_after.off_ticks * tick_s_);
}

std::span<const StampGap> FrameRate::stamp_gaps() const { return gap_list_; }

std::optional<MeasuredRate> FrameRate::frame_rate() const {
    if (!fit_ || static_cast<double>(track_.placed()) < least_share_placed * static_cast<double>(track_.seen()))
        return std::nullopt;
    const auto period = fit_->period();
    if (!period || period->ticks <= 0) return std::nullopt;
    const double rate_hz = 1 / (period->ticks * tick_s_);
    return MeasuredRate{rate_hz, rate_hz * period->uncertainty_ticks / period->ticks};
}

Figure FrameRate::rate_figure() const {
    if (const auto rate = frame_rate()) {
        Figure figure = Figure::measured(rate->hz, rate->uncertainty_hz, "Hz");
        if (1 / (rate->hz * tick_s_) < RateFit::least_clock_ticks)
            figure.with_note("the time stamps only count frames; their rate is the header's word");
        return figure;
    }
    if (track_.seen() == 0) return Figure::unknown("the frames carry no time stamps");
    if (track_.seen() == 1) return Figure::unknown("only one frame carries a time stamp");
    if (!fit_) return Figure::unknown("the time stamps don't rise");
    return Figure::unknown("the time stamps follow no steady rate");
}

Figure FrameRate::missing_figure() const {
    const auto by_pictures = context_.picture_gaps.gaps();
    if (!fit_ && by_pictures.empty()) return Figure::unknown("the frames carry no time stamps that would show it");
    const std::int64_t beyond_list = gaps_.total() - missing_in_all(gap_list_, {});
    return Figure::counted(missing_in_all(gap_list_, by_pictures) + beyond_list, "frames");
}

void FrameRate::report_events(std::vector<Event>& events) const {
    for (const Occurrence& o : gaps_.all())
        events.push_back(event(
            "stamp gap", Severity::Warning, o,
            fmt::format("the time stamps leave room for {} before this one", count_of(o.count, "frame", "frames"))));
    for (const Occurrence& o : jitter_.all())
        events.push_back(event("stamp jitter", Severity::Note, o,
                               fmt::format("{} off, by up to {:.1f} ms, over {:.2f} s",
                                           count_of(o.count, "time stamp is", "time stamps are"),
                                           1e3 * std::abs(o.largest), o.end_s - o.time_s)));
    for (const Occurrence& o : order_.all())
        events.push_back(event(
            "stamp order", Severity::Warning, o,
            fmt::format("{} not later than the one before", count_of(o.count, "time stamp is", "time stamps are"))));
    for (const Occurrence& o : restarts_.all())
        events.push_back(event("stamp order", Severity::Warning, o,
                               fmt::format("from here on all time stamps are shifted by {:+.3f} s", o.largest)));
}

void FrameRate::finish(quantity::Figures& figures, std::vector<Event>& events) {
    track_.end();
    figures.add("frame_rate", rate_figure());
    figures.add("missing_frames", missing_figure());
    report_events(events);
}

}  // namespace guardband::measure
