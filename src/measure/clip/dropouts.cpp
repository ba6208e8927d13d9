#include "measure/clip/dropouts.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

#include "measure/clip/quiet_noise.h"
#include "measure/clip/sample_time.h"
#include "measure/field_order.h"
#include "measure/stamp_evidence.h"

namespace guardband::measure {
namespace {

using quantity::Event;
using quantity::Figure;

constexpr int least_width = 320, least_height = 96;
constexpr std::size_t most_events = 1000;
constexpr std::int64_t joined_frames = 25;  ///< beyond that many, those of a second are told together
/// Dropouts that return at the same height: in so many lines together so many, and so many times what chance would put
/// there.
constexpr std::size_t height_lines = 4;
constexpr std::int64_t fewest_at_height = 6;
constexpr double least_at_height = 6, least_gathered_share = 0.1;

const char* word(LossKind kind) {
    switch (kind) {
        case LossKind::Bright:
            return "bright";
        case LossKind::Dark:
            return "dark";
        case LossKind::Held:
            break;
    }
    return "held";
}

float black_of(const ClipContext& context) {
    const LumaRange range = luma_range(context.info.picture, context.table);
    return static_cast<float>(range.to_8_bit(range.black));
}

bool overlap(const Loss& a, const Loss& b) {
    return a.parity == b.parity && std::abs(a.line - b.line) <= 1 && a.first < b.end && b.first < a.end;
}

}  // namespace

Dropouts::Dropouts(const ClipContext& context)
    : context_(context),
      usable_(context.info.picture.width >= least_width && context.info.picture.height >= least_height),
      us_per_sample_(nanoseconds_per_sample(context.info.picture, context.table) / 1000),
      clock_(context.info.time_base),
      light_(black_of(context)),
      flashes_(luma_range(context.info.picture, context.table)),
      more_(joined_frames),
      lengths_(static_cast<std::size_t>(std::max(0, context.info.picture.width)) + 1),
      lines_(static_cast<std::size_t>(std::max(0, context.info.picture.height)) / 2 + 1) {}

void Dropouts::see(const media::Frame& frame, const FrameFeatures& features) {
    if (!usable_) return;
    if (frame.damaged) return flush();
    std::rotate(ring_.begin(), ring_.begin() + 1, ring_.end());  // the oldest one's grids are filled anew
    LossFrame& next = ring_.back();
    next.frame = frame;
    next.sums = features.segment_sums;
    next.change = features.line_change;
    next.repeats = features.has_previous ? features.identical : std::array{false, false};
    next.noise = quiet_noise(features, frame.format.bit_depth);
    next.coded = noise_is_coded(features, frame.format.bit_depth, next.noise);
    next.is_lossy = context_.info.is_lossy;
    next.in_blocks = context_.info.is_lossy || noise_is_in_blocks(features, frame.format.bit_depth, next.noise);
    for (const int parity : {0, 1}) next.levels[static_cast<std::size_t>(parity)] = field_level(next, parity);
    next.time_s = clock_.time_s(frame);
    held_frames_ = std::min(held_frames_ + 1, 3);
    // The first frame has nothing before it to tell its noise from.
    if (held_frames_ == 2) ring_[1].noise = std::min(ring_[1].noise, next.noise);
    if (held_frames_ >= 2) search(held_frames_ == 3 ? &ring_[0] : nullptr, ring_[1], &ring_[2]);
    ++frames_;
}

/// Searches the latest frame, which nothing follows.
void Dropouts::flush() {
    if (held_frames_ > 0) search(held_frames_ > 1 ? &ring_[1] : nullptr, ring_[2], nullptr);
    held_frames_ = 0;
}

void Dropouts::search(const LossFrame* before, const LossFrame& now, const LossFrame* after) {
    for (int parity = 0; parity < 2; ++parity) {
        const auto p = static_cast<std::size_t>(parity);
        if (before != nullptr && now.repeats[p]) continue;  // what is in a copy has been found in its model
        losses_.clear();
        const LossFrame* later = after != nullptr && after->repeats[p] ? nullptr : after;
        flashes_.find(light_.lit_as(now, parity, before, 0), *light_.lit_as(now, parity, &now, 1),
                      light_.lit_as(now, parity, later, 2), parity, after == nullptr, losses_);
        copied_.clear();
        if (const LossFrame* other = before != nullptr ? before : later) copies_.find(now, *other, parity, copied_);
        for (const Loss& loss : copied_)
            if (std::ranges::none_of(losses_, [&](const Loss& other) { return overlap(loss, other); })) note(loss, now);
        for (const Loss& loss : losses_) note(loss, now);
    }
}

void Dropouts::note(const Loss& loss, const LossFrame& now) {
    ++counts_[static_cast<std::size_t>(loss.kind)];
    ++lengths_[std::min(static_cast<std::size_t>(loss.end - loss.first), lengths_.size() - 1)];
    ++lines_[std::min(static_cast<std::size_t>(loss.line), lines_.size() - 1)];
    if (found_.size() < most_events)
        found_.push_back({loss, now.frame.index, now.time_s});
    else
        more_.note(now.frame.index, now.time_s);
}

std::int64_t Dropouts::count() const { return std::accumulate(counts_.begin(), counts_.end(), std::int64_t{0}); }

std::optional<double> Dropouts::minutes() const {
    const auto measured = context_.stamps.frame_rate();
    const auto& declared = context_.info.declared_frame_rate;
    const double rate_hz = measured ? measured->hz : declared ? declared->value() : 0;
    if (rate_hz <= 0) return std::nullopt;
    return static_cast<double>(frames_) / rate_hz / 60;
}

double Dropouts::median_length_us() const {
    const double half = static_cast<double>(count()) / 2;
    double below = 0;
    for (std::size_t samples = 0; samples < lengths_.size(); ++samples) {
        below += static_cast<double>(lengths_[samples]);
        if (below >= half) return static_cast<double>(samples) * us_per_sample_;
    }
    return 0;
}

/// Where on the field they gather, if they do.
std::optional<std::string> Dropouts::gathered() const {
    std::int64_t most = 0;
    std::size_t at = 0;
    for (std::size_t line = 0; line + height_lines <= lines_.size(); ++line) {
        const auto from = lines_.begin() + static_cast<std::ptrdiff_t>(line);
        const auto here = std::accumulate(from, from + height_lines, std::int64_t{0});
        if (here > most) most = here, at = line;
    }
    const double share = static_cast<double>(most) / static_cast<double>(count());
    const double by_chance = static_cast<double>(height_lines) / static_cast<double>(lines_.size());
    if (most < fewest_at_height || share < least_at_height * by_chance || share < least_gathered_share)
        return std::nullopt;
    return fmt::format("{:.0f} % lie at lines {} to {} of the field, as those of a scratch along the tape do",
                       100 * share, at, at + height_lines - 1);
}

std::string Dropouts::note_text() const {
    std::string text;
    for (const LossKind kind : {LossKind::Bright, LossKind::Dark, LossKind::Held})
        if (const std::int64_t here = counts_[static_cast<std::size_t>(kind)]; here > 0)
            text += fmt::format("{}{} {}", text.empty() ? "" : ", ", here, word(kind));
    if (text.empty())
        text = "none found";
    else if (const auto height = gathered())
        text += "; " + *height;
    if (context_.info.is_lossy) text += "; those filled from another line can't be told in a lossy file";
    return text;
}

Event Dropouts::event_of(const Found& found) const {
    const Loss& loss = found.loss;
    const int first_parity = bottom_comes_first(context_) ? 1 : 0;
    Event event;
    event.kind = word(loss.kind);
    event.severity = loss.kind == LossKind::Held ? quantity::Severity::Note : quantity::Severity::Warning;
    event.time_s = found.time_s, event.frame = found.frame;
    event.field = 2 * found.frame + (loss.parity == first_parity ? 0 : 1);
    event.line = loss.line;
    event.start_us = loss.first * us_per_sample_, event.length_us = (loss.end - loss.first) * us_per_sample_;
    event.what = fmt::format("dropout, {}, {:.1f} µs of line {}", word(loss.kind), *event.length_us, loss.line);
    return event;
}

void Dropouts::finish(quantity::Figures& figures, std::vector<Event>& events) {
    const auto time = minutes();
    if (!usable_ || frames_ < 2 || !time) {
        const char* reason = !usable_      ? "the picture is too small to hold lines of a field"
                             : frames_ < 2 ? "fewer than two whole frames"
                                           : "the frame rate is not known";
        for (const char* id : {"dropouts_per_minute", "dropout_length_median"})
            figures.add(id, Figure::unknown(reason));
        return;
    }
    flush();
    const auto all = static_cast<double>(count());
    figures.add("dropouts_per_minute",
                Figure::measured(all / *time, std::sqrt(std::max(all, 1.0)) / *time, "").with_note(note_text()));
    if (all == 0)
        figures.add("dropout_length_median", Figure::unknown("no dropout was found"));
    else
        figures.add("dropout_length_median",
                    Figure::measured(median_length_us(), 1.25 * us_per_sample_ * std::sqrt(2.0), "µs"));
    for (const Found& found : found_) events.push_back(event_of(found));
    for (const Occurrence& more : more_.all()) {
        Event event;
        event.kind = "dropouts", event.severity = quantity::Severity::Warning;
        event.time_s = more.time_s, event.frame = more.frame, event.count = more.count;
        event.what = fmt::format("{} more dropouts until {:.2f} s", more.count, more.end_s);
        events.push_back(event);
    }
}

}  // namespace guardband::measure
