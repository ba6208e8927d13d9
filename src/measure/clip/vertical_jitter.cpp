#include "measure/clip/vertical_jitter.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "measure/clip/scanning_match.h"
#include "measure/field_order.h"
#include "measure/picture_gaps.h"
#include "measure/repeat_evidence.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

/// Of the pieces that tell, so many must go with a jump: that it fits them far better than no jump.
constexpr double most_of_picture = 0.75;
/// By how much things that move on their own may change the square of the figure, rows²: 0.08 frame lines.
constexpr double square_of_own_movement = 0.04 * 0.04;
constexpr double lines_of_row = 2;  // of the frame to a row of the field
constexpr std::size_t most_events = 50;
constexpr std::int64_t join_rolls = 12;        ///< frames apart
constexpr std::int64_t one_jump = 3;           ///< frames apart at most, of its events in the two fields
constexpr std::int64_t rolls_told_late = 160;  ///< frames after a roll began, at most
constexpr std::size_t fewest_places = 8;
/// Variance of a place against the mean of the 25 around it from steps of variance 1: 2 Σ (j / 25)², j = 1 … 12.
constexpr double variance_of_window = 2.08;

/// Rows of a field with its blanking, by the raster's height; 0 if that is none of television's.
double round_rows(const ClipContext& context) {
    for (const table::Raster& raster : context.table.rasters)
        if (has_height(raster, context.info.picture.height))
            if (const table::Scanning* scanning = context.table.find_scanning(raster.scanning))
                return scanning->lines().value() / 2;
    return 0;
}

}  // namespace

/// The product of what both parts say takes the place of the square: what they err by has little in common. What rolls
/// is told late; so it waits for that.
void VerticalJitter::judge(Track& track, std::int64_t frame) {
    if (track.places.size() < window) return;
    const auto count = static_cast<double>(window);
    Place mean;
    for (const Place& one : track.places) mean.left += one.left / count, mean.right += one.right / count;
    const Place& middle = track.places[window / 2];
    // The place itself is part of the mean.
    waiting_.push_back({frame - static_cast<std::int64_t>(window / 2),
                        (middle.left - mean.left) * (middle.right - mean.right) * count / (count - 1),
                        variance_of_window * track.variance});
    track.places.erase(track.places.begin());
}

/// Takes in what waited, up to a frame; none where the picture rolled within the second around it.
void VerticalJitter::take_up_to(std::int64_t frame) {
    for (; !waiting_.empty() && waiting_.front().frame <= frame; waiting_.pop_front()) {
        if (is_within_a_roll(waiting_.front().frame)) continue;
        squares_ += waiting_.front().square, subtracted_ += waiting_.front().noise;
        ++count_;
    }
}

/// Of a clip that is shorter than a second: all places, against the steady movement that fits them best.
void VerticalJitter::take_all(const Track& track) {
    const auto count = static_cast<double>(track.places.size());
    Place mean, along;
    for (const Place& one : track.places) mean.left += one.left / count, mean.right += one.right / count;
    double squares_of_time = 0;
    const auto time = [count](std::size_t i) { return static_cast<double>(i) - (count - 1) / 2; };
    for (std::size_t i = 0; i < track.places.size(); ++i) {
        squares_of_time += time(i) * time(i);
        along.left += time(i) * track.places[i].left, along.right += time(i) * track.places[i].right;
    }
    for (std::size_t i = 0; i < track.places.size(); ++i) {
        const double left = track.places[i].left - mean.left - along.left / squares_of_time * time(i);
        const double right = track.places[i].right - mean.right - along.right / squares_of_time * time(i);
        squares_ += left * right * count / (count - 2);  // two numbers were fitted
        subtracted_ += variance_of_window * track.variance;
        ++count_;
    }
}

VerticalJitter::VerticalJitter(const ClipContext& context)
    : context_(context),
      clock_(context.info.time_base),
      roll_finder_(round_rows(context)),
      height_rows_(std::max(1.0, context.info.picture.height / 2.0)) {}

void VerticalJitter::look_for_roll(const media::Frame& frame, double time_s, std::optional<double> moved) {
    const FieldFollower& follower = tracks_[0].follower;
    const auto roll = roll_finder_.see(follower.slopes(), follower.slopes_before(),
                                       static_cast<std::size_t>(std::max(0, follower.columns())), moved);
    if (!roll) return;
    const std::int64_t last = frame.index - roll->ago, first = last - roll->fields + 1;
    const bool goes_on = !rolls_.empty() && first - rolls_.back().last_frame <= join_rolls;
    if (!goes_on && rolls_.size() == most_events) return;
    if (!goes_on)
        rolls_.push_back(
            {first, first, time_s - static_cast<double>(frame.index - first) * (time_s - last_time_s_), 0});
    rolls_.back().last_frame = last, rolls_.back().rows += roll->rows;
}

bool VerticalJitter::is_within_a_roll(std::int64_t frame) const {
    return std::ranges::any_of(rolls_, [frame](const Rolling& r) {
        return r.frame - join_rolls <= frame && frame <= r.last_frame + join_rolls;
    });
}

bool VerticalJitter::is_beside_a_repeat_or_gap(std::int64_t frame) const {
    constexpr std::int64_t fields_in_frame = 2;
    const auto is_at = [frame](const PictureGap& gap) { return gap.frame == frame; };
    const auto surrounds = [frame](const RepeatedStretch& stretch) {
        return stretch.first / fields_in_frame <= frame && frame <= stretch.last / fields_in_frame + 1;
    };
    return std::ranges::any_of(context_.picture_gaps.gaps(), is_at) ||
           std::ranges::any_of(context_.repeats.repeated_stretches(), surrounds);
}

void VerticalJitter::add_rolls(std::vector<quantity::Event>& events) const {
    for (const Rolling& rolling : rolls_) {
        quantity::Event event;
        event.kind = "vertical roll", event.severity = quantity::Severity::Fault;
        event.time_s = rolling.time_s, event.frame = rolling.frame;
        event.count = rolling.last_frame - rolling.frame + 1;
        const char* way = rolling.rows > 0 ? "down" : "up";
        event.what = *event.count == 1
                         ? fmt::format(
                               "the picture jumps {} by {:.0f} lines; what leaves the frame comes in at its "
                               "other end",
                               way, lines_of_row * std::abs(rolling.rows))
                         : fmt::format("the picture rolls {} through the frame, {} frames, {:.1f} heights in all", way,
                                       *event.count, std::abs(rolling.rows) / height_rows_);
        events.push_back(event);
    }
}

/// Whether a field lies elsewhere than it should, with nearly all of the picture.
bool VerticalJitter::jumps(std::size_t parity, std::optional<double> shift) const {
    const auto expected = jump_finders_[parity].expected();
    return expected && shift && VerticalJumps::stands_out(*shift, *expected) &&
           tracks_[parity].follower.share_for(*shift, expected->rows) >= most_of_picture;
}

/// Once as it is and once with the parities' parts exchanged: a jump of one field alone shows in its own.
void VerticalJitter::look_for_jumps(const VerticalJumps::Shifts& shifts, std::int64_t frame, double time_s) {
    // Telling the order goes over all that was seen so far: too much to ask in each frame.
    const bool lower_first =
        std::ranges::any_of(jump_finders_, &VerticalJumps::decides_next) && bottom_comes_first(context_);
    jump_finders_[0].add(shifts, jumps(0, shifts.upper), lower_first, frame, time_s);
    jump_finders_[1].add({shifts.lower, shifts.upper}, jumps(1, shifts.lower), !lower_first, frame, time_s);
    for (std::size_t parity = 0; parity < 2; ++parity)
        for (const VerticalJumps::Jump& jump : jump_finders_[parity].take())
            jumps_[parity].note(jump.frame, jump.time_s, 1, lines_of_row * jump.rows);
}

/// Those of the upper fields, and those of the lower ones beside which no upper one jumps: what jumps for longer than a
/// field does so in both. In the order of time.
std::vector<Occurrence> VerticalJitter::jumps_of_both() const {
    std::vector<Occurrence> all = jumps_[0].all();
    const std::vector<Occurrence> upper = all;
    for (const Occurrence& lower : jumps_[1].all())
        if (std::ranges::none_of(
                upper, [&lower](const Occurrence& other) { return std::abs(other.frame - lower.frame) <= one_jump; }))
            all.push_back(lower);
    std::ranges::sort(all, {}, &Occurrence::frame);
    return all;
}

void VerticalJitter::see(const media::Frame& frame, const FrameFeatures& features) {
    const double time_s = clock_.time_s(frame);
    take_up_to(frame.index - rolls_told_late);
    VerticalJumps::Shifts shifts;
    for (std::size_t parity = 0; parity < 2; ++parity) {
        Track& track = tracks_[parity];
        const auto shift = track.follower.see(features, parity);
        if (parity == 0 && !frame.damaged)
            look_for_roll(frame, time_s, shift ? std::optional(shift->rows) : std::nullopt);
        last_time_s_ = parity == 1 ? time_s : last_time_s_;
        if (!shift || frame.damaged) {
            track.restart();
            continue;
        }
        (parity == 0 ? shifts.upper : shifts.lower) = shift->rows;
        track.place.left += shift->left_rows, track.place.right += shift->right_rows;
        track.variance += 0.1 * (shift->variance - track.variance);
        track.places.push_back(track.place);
        judge(track, frame.index);
    }
    look_for_jumps(shifts, frame.index, time_s);
}

void VerticalJitter::finish(quantity::Figures& figures, std::vector<quantity::Event>& events) {
    add_rolls(events);
    std::vector<Occurrence> jumps = jumps_of_both();
    std::erase_if(jumps, [this](const Occurrence& jump) {
        return is_within_a_roll(jump.frame) || is_beside_a_repeat_or_gap(jump.frame);
    });
    for (std::size_t i = 0; i < std::min(jumps.size(), most_events); ++i) {
        quantity::Event event;
        event.kind = "vertical jump", event.severity = quantity::Severity::Warning;
        event.time_s = jumps[i].time_s, event.frame = jumps[i].frame, event.count = jumps[i].count;
        event.what = fmt::format("the picture jumps {} by {:.0f} lines", jumps[i].largest > 0 ? "down" : "up",
                                 std::abs(jumps[i].largest));
        if (jumps[i].count > 1) event.what += fmt::format(", {} times within a few frames", jumps[i].count);
        events.push_back(event);
    }
    if (jumps.size() > most_events)
        events.back().what += fmt::format("; it jumps at {} more places", jumps.size() - most_events);
    take_up_to(std::numeric_limits<std::int64_t>::max());
    if (count_ == 0)
        for (const Track& track : tracks_)
            if (track.places.size() >= fewest_places && rolls_.empty()) take_all(track);
    if (count_ == 0)
        return figures.add("vertical_jitter_rms",
                           Figure::unknown(rolls_.empty() ? "too few fields in a row show enough detail to follow"
                                                          : "the picture rolls through the frame nearly all the time"));
    const auto count = static_cast<double>(count_);
    const double noise = subtracted_ / count, square = std::max(0.0, squares_ / count - noise);
    const double value = std::sqrt(square);
    // Places that follow one another are alike: half as many count. A third of what was subtracted may be wrong.
    const double error = std::hypot(square / std::sqrt(count / 4 + 1), noise / 3, square_of_own_movement);
    // Of a root: half the relative error; near 0, the root of the error.
    const double uncertainty = error / (value + std::sqrt(square + error));
    figures.add("vertical_jitter_rms", Figure::measured(lines_of_row * value, lines_of_row * uncertainty, "lines"));
}

}  // namespace guardband::measure
