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
/// Stamps of one row agree within this share of a period.
constexpr double agreement = 0.25;
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
/// A last stamp that stands alone is believed up to this many frames on.
constexpr double longest_lonely_gap = 25;
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
    period_ = common_step(steps_of(early_frames_, early_pts_));
    if (period_ <= 0) return early_frames_.clear(), early_pts_.clear();
    begun_ = true;
    origin_ = middle(early_pts_);
    std::vector<Stamp> early;
    for (std::size_t i = 0; i < early_pts_.size(); ++i)
        early.push_back(
            {early_frames_[i], difference(early_pts_[i], origin_), i > 0 && early_pts_[i] <= early_pts_[i - 1]});
    last_ticks_ = early.back().ticks;
    // The row starts at the first stamp that most others agree with, gaps or not.
    const auto supporters = [&](const Stamp& first) {
        return std::ranges::count_if(early, [&](const Stamp& other) {
            const double periods =
                (other.ticks - first.ticks) / period_ - static_cast<double>(other.frame - first.frame);
            return std::abs(periods) < static_cast<double>(begin_with) &&
                   std::abs(periods - std::round(periods)) < agreement;
        });
    };
    long most = 0;
    for (const Stamp& stamp : early) most = std::max<long>(most, supporters(stamp));
    const auto first =
        std::ranges::find_if(early, [&](const Stamp& stamp) { return 10 * supporters(stamp) >= 8 * most; });
    anchor_frame_ = first->frame;
    anchor_ticks_ = first->ticks;
    start_ticks_ = expected(early.front().frame);
    for (const Stamp& stamp : early) judge(stamp);
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
    if (const auto from = new_row(at_end)) return follow_row(*from);
    place_or_lead_astray(pending_.front());
    pending_.erase(pending_.begin());
}

std::optional<std::size_t> StampTrack::new_row(bool at_end) const {
    std::vector<double> offs;
    for (const Stamp& stamp : pending_) offs.push_back(off(stamp));
    const auto away = [&](std::size_t i) { return std::abs(offs[i]) >= 0.5; };
    const auto agree = [&](std::size_t i, std::size_t j) {
        return away(i) && away(j) && std::abs(offs[i] - offs[j]) < agreement;
    };
    std::size_t best = 0;
    long most = 0;
    for (std::size_t i = 0; i < offs.size(); ++i) {
        const long support =
            std::ranges::count_if(offs, [&](double other) { return away(i) && std::abs(other - offs[i]) < agreement; });
        if (support > most) most = support, best = i;
    }
    if (most < 2) {
        const bool lonely = at_end && offs.size() == 1 && offs[0] < longest_lonely_gap && offs[0] > 0;
        return lonely && std::abs(offs[0] - std::round(offs[0])) < agreement ? std::optional<std::size_t>(0)
                                                                             : std::nullopt;
    }
    // Several rows may follow one another within sight, as with a frame missing every now and then: the first on the
    // way to the best one counts.
    for (std::size_t i = 0; i < best; ++i)
        if (agree(i, i + 1) && offs[i] * offs[best] > 0 && std::abs(offs[i]) < std::abs(offs[best]) + agreement)
            return i;
    return best;
}

void StampTrack::follow_row(std::size_t from) {
    const std::vector<Stamp> stamps = std::move(pending_);
    pending_.clear();
    in_place_ = 0;
    for (std::size_t i = 0; i < from; ++i) place_or_lead_astray(stamps[i]);
    std::vector<double> offs;
    for (std::size_t i = from; i < stamps.size() && std::abs(off(stamps[i]) - off(stamps[from])) < agreement; ++i)
        offs.push_back(off(stamps[i]));
    shift(stamps[from], dsp::median(offs));
    for (std::size_t i = from; i < stamps.size(); ++i) judge(stamps[i]);
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
