#include "measure/clip/interlace.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <string>

#include <fmt/format.h>

namespace guardband::measure {
namespace {

using quantity::Figure;
using Scan = InterlaceEvidence::Scan;
using Order = InterlaceEvidence::Order;

/// Votes need motion or order this many times their own scatter: one frame in two thousand does by chance.
constexpr double significant = 3.5;
/// ... and this much per frame, in cells' shares. A still picture with white noise at 30 dB gives 0.05, with noise of a
/// third of the bandwidth 0.2.
constexpr double least_effect = 0.3;
/// Order over motion: 0 progressive, 1 interlaced. Between the two, frames don't vote.
constexpr double progressive_below = 0.35, interlaced_above = 0.5;
/// One moment has no order: it must not stand out of its scatter by so much and be this share of the motion too. Noise
/// that a codec gives each frame of its own seems to move and hides an order that is there (DV of a noisy test picture:
/// 0.2 of the motion, 3.4 times its scatter; progressive footage that is as well above its scatter: 0.02 to 0.08).
constexpr double standing_out = 2, no_order = 0.12;
/// Where motion comes out negative, it gives no scale: fast repeating patterns and wrongly woven pictures, whose fields
/// seem to comb more within a frame than across two. Order must then be this share of its cells' energies (0.2 in
/// FFmpeg's test pattern; compressed noise gives 0.03).
constexpr double plain_order = 0.1;
/// What seems to move must change more in two frames than in one, by this (noise that a block codec went over: 0.02 to
/// 0.06; motion: 0.1 to 0.5), or fill its cells by this share.
constexpr double least_growth = 0.08, plain_share = 0.3;
/// A frame whose change is this many times that of all but one of its neighbours begins a new scene.
constexpr double cut_factor = 4;
constexpr std::size_t neighbours = 3;
/// Frames that are summed before they are given up.
constexpr int most_gathered = 20;
/// Votes below which nothing is claimed, and the share that the lesser kind needs for `mixed`. One cut in a second
/// would be 4 %.
constexpr std::int64_t fewest_votes = 3;
constexpr double mixed_share = 0.08;
/// Share of the interlaced votes that one order needs.
constexpr double order_share = 0.8;
/// Votes bear this error of order over motion by an offset of the fields (see `progressive_below`, `interlaced_above`),
/// and whatever error an offset gives that is too small to be told from slanting outlines, samples.
constexpr double bearable_error = 0.3, least_offset_px = 0.1;
/// Fields that lie straight as the votes have it do so by chance one time in thirty if something else is true: that
/// must then fit the pieces so many times better, more than noise of their movement can make it.
constexpr double far_better = 1.35;

double total_change(const FrameFeatures& features) {
    double sum = 0;
    for (const auto& grid : features.change)
        for (const std::uint32_t block : grid.cells) sum += static_cast<double>(block);
    return sum;
}

bool shows_two_moments(const WeaveSums& s) {
    const double order = std::abs(s.order);
    return std::abs(s.order_significance()) >= significant && order >= least_effect * s.frames &&
           order >= (s.motion > 0 ? interlaced_above * s.motion : plain_order * s.weight);
}

bool has_order(const WeaveSums& s) {
    return std::abs(s.order_significance()) >= standing_out && std::abs(s.ratio()) >= no_order;
}

/// `around` are the frames around: noise on which a codec spends more bits in some frames than in others grows in one
/// step, shrinks in the next.
bool shows_one_moment(const WeaveSums& s, const WeaveSums& around) {
    const bool moves = std::min(s.mean_growth(), around.mean_growth()) >= least_growth || s.mean_share() >= plain_share;
    return moves && s.significance() >= significant && s.motion >= least_effect * s.frames &&
           std::abs(s.ratio()) + s.ratio_error() <= progressive_below;
}

double share(std::int64_t part, std::int64_t all) { return static_cast<double>(part) / static_cast<double>(all); }

Scan scan_of(const WeaveVotes& votes) {
    if (votes.all() < fewest_votes || votes.hidden > votes.all()) return Scan::Unknown;
    const std::int64_t lesser = std::min(votes.interlaced(), votes.progressive);
    if (lesser >= fewest_votes && share(lesser, votes.all()) >= mixed_share) return Scan::Mixed;
    return votes.interlaced() > votes.progressive ? Scan::Interlaced : Scan::Progressive;
}

Order order_of(const WeaveVotes& votes) {
    const Scan scan = scan_of(votes);
    if (scan != Scan::Interlaced && scan != Scan::Mixed) return Order::Unknown;
    if (share(votes.top_first, votes.interlaced()) >= order_share) return Order::TopFirst;
    if (share(votes.bottom_first, votes.interlaced()) >= order_share) return Order::BottomFirst;
    return Order::Unknown;
}

constexpr const char* too_still = "too little moves to tell when the two fields of a frame were taken";

constexpr const char* hidden =
    "noise that the codec gives each frame of its own hides when the two fields of a frame were taken";

constexpr const char* straight =
    "; taking it that the fields lie straight one beneath the other: too little moves at a speed of its own to show it";

/// What votes and the fields' offset come to.
struct Verdict {
    Scan scan = Scan::Unknown;
    Order order = Order::Unknown;
    std::string scan_note, order_note;  ///< of what is known
    std::string reason;                 ///< of what isn't
};

bool upsets_votes(const OffsetReading& reading) {
    return reading.offset_px >= least_offset_px && reading.order_error > bearable_error;
}

/// Whether the votes would come out so if the fields had been taken at these moments.
bool may_give(FieldMoments moments, const WeaveVotes& votes) {
    switch (scan_of(votes)) {
        case Scan::Interlaced:
            return moments ==
                   (votes.top_first > votes.bottom_first ? FieldMoments::TopFirst : FieldMoments::BottomFirst);
        case Scan::Progressive:
            return moments == FieldMoments::OneMoment;
        default:
            return true;
    }
}

Verdict by_votes(const WeaveVotes& votes) {
    Verdict verdict{scan_of(votes), order_of(votes), {}, {}, votes.hidden > votes.all() ? hidden : too_still};
    if (verdict.scan == Scan::Unknown) return verdict;
    const double two = 100 * share(votes.interlaced(), votes.all());
    verdict.order_note =
        fmt::format("{} frames show the top field first, {} the bottom field", votes.top_first, votes.bottom_first);
    verdict.scan_note =
        fmt::format("of {} frames that tell, {:.1f} % show two moments, {:.1f} % one", votes.all(), two, 100 - two);
    return verdict;
}

Verdict by_offset(FieldMoments moments, const OffsetReading& reading) {
    Verdict verdict;
    verdict.scan = moments == FieldMoments::OneMoment ? Scan::Progressive : Scan::Interlaced;
    if (moments != FieldMoments::OneMoment)
        verdict.order = moments == FieldMoments::TopFirst ? Order::TopFirst : Order::BottomFirst;
    verdict.scan_note = verdict.order_note = fmt::format(
        "by what moves at different speeds, since the two fields of a frame lie {:.1f} samples beside each other",
        reading.offset_px);
    return verdict;
}

/// Whether the fields lie straight if they were taken as the votes have it, by one of the readings that may be.
/// @param most_misfit  of those
bool bear_votes(const std::array<OffsetReading, 3>& readings, const WeaveVotes& votes, double most_misfit) {
    const auto bears = [&](FieldMoments moments) {
        const OffsetReading& reading = readings[static_cast<std::size_t>(moments)];
        return may_give(moments, votes) && !upsets_votes(reading) && reading.misfit < most_misfit;
    };
    return std::ranges::any_of(std::array{FieldMoments::TopFirst, FieldMoments::BottomFirst, FieldMoments::OneMoment},
                               bears);
}

Verdict by_votes_if_straight(const WeaveVotes& votes) {
    Verdict verdict = by_votes(votes);
    verdict.scan_note += straight, verdict.order_note += straight;
    return verdict;
}

Verdict judge(const WeaveVotes& votes, const FieldOffset& offset) {
    auto readings = offset.readings();
    if (!readings) return offset.tilts() ? by_votes_if_straight(votes) : by_votes(votes);
    if (const auto plain = FieldOffset::plain(*readings)) {
        const OffsetReading& reading = (*readings)[static_cast<std::size_t>(*plain)];
        if (!upsets_votes(reading)) return by_votes(votes);
        if (bear_votes(*readings, votes, far_better * reading.misfit)) return by_votes_if_straight(votes);
        // Moments that were left out, as by a conversion of standards, pass for an offset; where things move on as they
        // did they can't.
        const auto steady = offset.readings(true);
        if (!steady || FieldOffset::plain(*steady) == plain) return by_offset(*plain, reading);
        readings = steady;
    }
    if (bear_votes(*readings, votes, std::numeric_limits<double>::infinity())) return by_votes_if_straight(votes);
    Verdict verdict;
    verdict.reason =
        "the two fields of a frame lie beside each other, and too little moves at a speed of its own to "
        "tell that from when they were taken";
    return verdict;
}

Figure scan_figure(const Verdict& verdict) {
    if (verdict.scan == Scan::Unknown) return Figure::unknown(verdict.reason);
    return Figure::text(verdict.scan == Scan::Mixed        ? "mixed"
                        : verdict.scan == Scan::Interlaced ? "interlaced"
                                                           : "progressive")
        .with_note(verdict.scan_note);
}

Figure order_figure(const Verdict& verdict) {
    if (verdict.scan == Scan::Unknown) return Figure::unknown(verdict.reason);
    if (verdict.scan == Scan::Progressive) return Figure::unknown("both fields of a frame show the same moment");
    if (verdict.order == Order::Unknown) return Figure::unknown("it changes within the clip: " + verdict.order_note);
    return Figure::text(verdict.order == Order::TopFirst ? "top first" : "bottom first").with_note(verdict.order_note);
}

}  // namespace

void Interlace::see(const media::Frame& frame, const FrameFeatures& features) {
    offset_.see(features, !frame.damaged);
    Waiting now{summer_.add(features), total_change(features), frame.index, false};
    now.decided = frame.damaged || now.sums.frames == 0;
    window_.push_back(now);
    if (window_.size() > 2 * neighbours + 1) window_.pop_front();
    if (window_.size() > neighbours) decide(window_.size() - 1 - neighbours);
}

bool Interlace::is_cut(std::size_t which) const {
    double largest = 0, second = 0;
    for (std::size_t i = 0; i < window_.size(); ++i) {
        if (i == which) continue;
        second = std::max(second, std::min(largest, window_[i].change));
        largest = std::max(largest, window_[i].change);
    }
    return window_[which].change > cut_factor * second;
}

void Interlace::decide(std::size_t which) {
    Waiting& frame = window_[which];
    if (frame.decided) return;
    frame.decided = true;
    WeaveSums around;
    for (const Waiting& one : window_) around += one.sums;
    if (is_cut(which) || around.mean_growth() <= 0 || vote(frame.sums, around)) return;
    votes_.hidden += is_lossy_ && has_order(frame.sums) && frame.sums.significance() >= significant ? 1 : 0;
    WeaveSums& sum = gathered_[static_cast<std::size_t>(frame.index) % gathered_.size()];
    sum += frame.sums;
    if (vote(sum, around) || sum.frames >= most_gathered) sum = {};
}

bool Interlace::vote(const WeaveSums& sums, const WeaveSums& around) {
    if (shows_two_moments(sums))
        (sums.order > 0 ? votes_.top_first : votes_.bottom_first) += sums.frames;
    else if (shows_one_moment(sums, around) && !(is_lossy_ && has_order(sums)))
        votes_.progressive += sums.frames;
    else
        return false;
    return true;
}

WeaveVotes Interlace::votes() const {
    Interlace ended = *this;
    for (std::size_t i = 0; i < window_.size(); ++i) ended.decide(i);
    return ended.votes_;
}

InterlaceEvidence::Scan Interlace::scan() const { return judge(votes(), offset_).scan; }

InterlaceEvidence::Order Interlace::order() const { return judge(votes(), offset_).order; }

void Interlace::finish(quantity::Figures& figures, std::vector<quantity::Event>&) {
    const Verdict verdict = judge(votes(), offset_);
    figures.add("scan", scan_figure(verdict));
    figures.add("field_order", order_figure(verdict));
}

}  // namespace guardband::measure
