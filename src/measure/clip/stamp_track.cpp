#include "measure/clip/stamp_track.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "dsp/robust.h"
#include "measure/clip/stamp_period.h"

namespace guardband::measure {
namespace {

/// Stamps gathered before the row begins: enough for a median step and for the first stamps to be wrong.
constexpr std::size_t begin_with = 64;
/// How many stamps are looked at before a shift is believed. A second of pictures: bursts of wrong stamps are mostly
/// shorter.
constexpr std::size_t look_ahead = 25;
/// So many stamps in place one after another end a time of doubt. One may be there by chance.
constexpr int enough_in_place = 3;
/// At the beginning, stamps of one row agree within this share of a period.
constexpr double support_within = 0.25;
/// A stamp pulls the row by at most this share of a period, however far it is off.
constexpr double most_pull = 0.1;
/// The filter's memory, in stamps: long against jitter, short against the wander of clocks.
constexpr double longest_memory = 64;
/// Shifts by other than whole periods, beyond this, start a segment of their own: their length is not known.
constexpr double whole_within = 0.1;
/// After longer gaps the period isn't known well enough to count slots to a tenth.
constexpr double longest_bridge = 50;
/// A jump forth by more frames than this, about an hour, is a restart of the clock and no gap.
constexpr double longest_gap = 100'000;
/// So many stamps off to one side, by more than the least, mean that the row was shifted by a part of a period.
constexpr std::int64_t one_sided_run = 25;
constexpr double one_sided_least = 0.12;

/// Difference of two stamps, which may not fit 64 bits.
double difference(std::int64_t a, std::int64_t b) { return static_cast<double>(static_cast<__int128>(a) - b); }

std::vector<double> steps_of(const std::vector<std::int64_t>& frames, const std::vector<std::int64_t>& pts) {
    std::vector<double> steps;
    for (std::size_t i = 1; i < pts.size(); ++i)
        steps.push_back(difference(pts[i], pts[i - 1]) / static_cast<double>(frames[i] - frames[i - 1]));
    return steps;
}

std::int64_t middle(std::vector<std::int64_t> values) {
    const auto half = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::ranges::nth_element(values, half);
    return *half;
}

}  // namespace

double StampTrack::expected(std::int64_t frame) const {
    return anchor_ticks_ + static_cast<double>(frame - anchor_frame_) * period_;
}
double StampTrack::off(const Stamp& stamp) const { return (stamp.ticks - expected(stamp.frame)) / period_; }

StampPlace StampTrack::place_of(const Stamp& stamp) const {
    const double at = expected(stamp.frame);
    return {stamp.frame, at - start_ticks_, stamp.ticks - at, period_, stamp.not_after};
}

void StampTrack::see(std::int64_t frame, std::int64_t pts) {
    ++seen_;
    if (begun_) {
        const double ticks = difference(pts, origin_);
        const bool not_after = ticks <= std::exchange(last_ticks_, ticks);
        return judge({frame, ticks, not_after});
    }
    early_frames_.push_back(frame);
    early_pts_.push_back(pts);
    if (early_pts_.size() == begin_with) begin();
}

void StampTrack::begin() {
    if (early_pts_.size() < 2) return;
    const double step = common_step(steps_of(early_frames_, early_pts_));
    if (step <= 0) return early_frames_.clear(), early_pts_.clear();
    begun_ = true;
    origin_ = middle(early_pts_);
    std::vector<Stamp> early;
    std::vector<double> ticks;
    for (std::size_t i = 0; i < early_pts_.size(); ++i) {
        ticks.push_back(difference(early_pts_[i], origin_));
        early.push_back({early_frames_[i], ticks.back(), i > 0 && early_pts_[i] <= early_pts_[i - 1]});
    }
    last_ticks_ = ticks.back();
    period_ = refined_period(ticks, step);
    anchor_row(early);
    start_ticks_ = expected(early.front().frame);
    for (const Stamp& stamp : early) judge(stamp);
}

void StampTrack::anchor_row(const std::vector<Stamp>& early) {
    // Where the others lie against one stamp, in parts of a period: gaps don't count, wild stamps lie anywhere.
    const auto parts = [&](const Stamp& first) {
        std::vector<double> result;
        for (const Stamp& other : early) {
            const double part = std::remainder((other.ticks - first.ticks) / period_, 1.0);
            if (std::abs(part) < support_within) result.push_back(part);
        }
        return result;
    };
    std::size_t most = 0;
    for (const Stamp& stamp : early) most = std::max(most, parts(stamp).size());
    // The row starts at the first stamp that nearly as many agree with as with any, and runs through their middle.
    const auto first =
        std::ranges::find_if(early, [&](const Stamp& stamp) { return 10 * parts(stamp).size() >= 8 * most; });
    anchor_frame_ = first->frame;
    anchor_ticks_ = first->ticks + dsp::median(parts(*first)) * period_;
}

void StampTrack::judge(const Stamp& stamp) {
    const double off_periods = off(stamp);
    const bool in_place = std::abs(off_periods) < 0.5;
    if (pending_.empty() && in_place) return place(stamp, off_periods);
    pending_.push_back(stamp);
    in_place_ = in_place ? in_place_ + 1 : 0;
    if (in_place_ == enough_in_place)
        settle();
    else if (pending_.size() == look_ahead)
        decide(false);
}

void StampTrack::place(const Stamp& stamp, double off_periods) {
    ++placed_;
    listener_.placed(place_of(stamp), static_cast<double>(stamp.frame + missing_), stamp.ticks, segment_);
    if (stamp.frame > anchor_frame_) pull(stamp.frame, off_periods);
    watch_for_shift(off_periods);
}

void StampTrack::pull(std::int64_t frame, double off_periods) {
    // Gains of a least-squares line through `memory` stamps (Kalata, IEEE Trans. AES-20, 1984, gives the filter; from
    // memory).
    const double memory = std::min(++pulls_, longest_memory);
    const double for_phase = 2 * (2 * memory - 1) / (memory * (memory + 1)), for_period = 6 / (memory * (memory + 1));
    const double pulled_ticks = std::clamp(off_periods, -most_pull, most_pull) * period_;
    anchor_ticks_ = expected(frame) + for_phase * pulled_ticks;
    period_ += for_period * pulled_ticks / static_cast<double>(frame - anchor_frame_);
    anchor_frame_ = frame;
}

void StampTrack::watch_for_shift(double off_periods) {
    const bool goes_on = std::abs(off_periods) > one_sided_least && off_periods * one_sided_sum_ > 0;
    if (!goes_on) {
        one_sided_ = 0, one_sided_sum_ = 0;
        period_before_ = period_;
    }
    if (std::abs(off_periods) > one_sided_least) ++one_sided_, one_sided_sum_ += off_periods;
    if (one_sided_ < one_sided_run) return;
    period_ = period_before_;  // it was pulled by the shift, in vain
    anchor_ticks_ += off_periods * period_;
    ++segment_;
    one_sided_ = 0, one_sided_sum_ = 0;
}

void StampTrack::place_or_lead_astray(const Stamp& stamp) {
    const double off_periods = off(stamp);
    if (std::abs(off_periods) < 0.5)
        place(stamp, off_periods);
    else
        listener_.astray(place_of(stamp));
}

void StampTrack::settle() {
    for (const Stamp& stamp : pending_) place_or_lead_astray(stamp);
    pending_.clear();
    in_place_ = 0;
}

void StampTrack::decide(bool at_end) {
    std::vector<double> offs;
    for (const Stamp& stamp : pending_) offs.push_back(off(stamp));
    if (const auto row = find_new_row(offs, at_end)) return follow(*row);
    place_or_lead_astray(pending_.front());
    pending_.erase(pending_.begin());
}

void StampTrack::follow(const NewRow& row) {
    const std::vector<Stamp> stamps = std::exchange(pending_, {});
    in_place_ = 0;
    for (std::size_t i = 0; i < row.from; ++i) place_or_lead_astray(stamps[i]);
    shift(stamps[row.from], row.off_periods);
    for (std::size_t i = row.from; i < stamps.size(); ++i) judge(stamps[i]);
}

void StampTrack::shift(const Stamp& first, double off_periods) {
    const double whole = std::round(off_periods);
    const bool is_whole = std::abs(off_periods - whole) < whole_within && std::abs(whole) <= longest_bridge;
    const bool is_gap = whole >= 1 && whole <= longest_gap;
    if (is_gap)
        listener_.gap(place_of(first), static_cast<std::int64_t>(whole));
    else
        listener_.restart(place_of(first));
    if (is_gap || (is_whole && whole == -1))
        missing_ += static_cast<std::int64_t>(whole);
    else
        ++segment_;
    if (is_gap && !is_whole) ++segment_;
    anchor_ticks_ += (is_whole ? whole : off_periods) * period_;
}

void StampTrack::end() {
    if (!begun_) begin();
    while (!pending_.empty()) {
        if (in_place_ > 0)
            settle();
        else
            decide(true);
    }
}

}  // namespace guardband::measure
