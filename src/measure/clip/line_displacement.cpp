#include "measure/clip/line_displacement.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include <numbers>
#include <string>
#include <utility>

#include "measure/clip/head_switch.h"
#include "measure/clip/line_motion_figures.h"
#include "measure/clip/luma_range.h"
#include "measure/clip/sample_time.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

/// Pictures below this have too few lines or samples to make a field of.
constexpr int least_width = 320, least_height = 96;

/// What was taken for blanking may be dark ground on which lit things move: then hardly a line shows both edges, many
/// show none, and the rest lies far apart. Captured blanking shows both in 2 % of the lines where a sine of 5 µs hides
/// one or the other, in dropouts and noise bands too; where only one side was captured, nearly all lines show that.
bool edges_of_dark_things(const TimeBaseSums& sums, double ns_per_px) {
    constexpr double most_with_both = 0.01, least_lost = 0.05, least_apart_ns = 500;
    const auto all = static_cast<double>(sums.counted + sums.not_placed);
    return sums.rms_px && sums.rms_px->value * ns_per_px > least_apart_ns &&
           static_cast<double>(sums.not_placed) > least_lost * all &&
           static_cast<double>(sums.with_both_edges) < most_with_both * all;
}

void add_unknown(quantity::Figures& figures, const std::string& reason) {
    for (const char* id :
         {"time_base_error_rms", "time_base_error_peak", "time_base_error_fixed", "time_base_components",
          "line_jitter_rms", "flagging", "head_switch_line", "head_switch_step"})
        figures.add(id, Figure::unknown(reason));
}

double black_code(const media::PictureFormat& picture, const table::Table& table) {
    const LumaRange range = luma_range(picture, table);
    return range.to_8_bit(range.black);
}

constexpr const char* no_blanking =
    "without blanking at the picture's edges a slow course down the field can't be told from outlines that slant";

/// What can be told without edges, within the reason why the rest can't.
std::string without_edges(const TimeBaseSums& sums, double ns_per_px) {
    const std::string why = std::string(no_blanking) + ", nor what moves whole fields from the scene's own movement";
    if (!sums.varying_px) return why;
    return fmt::format(
        "{}; what lines of a field differ by, as far as it changes from field to field, is at most {:.0f} "
        "ns RMS, by {:.0f} % of the lines",
        why, sums.varying_px->value * ns_per_px, 100 * sums.varying_share);
}

const char* too_few(const DisplacementStore& store) {
    return store.has_edges() ? "too few lines could be placed" : no_blanking;
}

Figure figure(const std::optional<Estimated>& found, double ns_per_px, std::string reason) {
    return found ? Figure::measured(found->value * ns_per_px, found->error * ns_per_px, "ns")
                 : Figure::unknown(std::move(reason));
}

/// Where lines wander by microseconds the top of a field says little against its middle: what is known neither to a
/// quarter of a microsecond, nor to half of itself, is none.
Figure flagging_figure(const std::optional<Estimated>& found, double ns_per_px, std::string reason) {
    constexpr double most_error_ns = 250;
    if (found && found->error > std::max(most_error_ns / ns_per_px, std::abs(found->value) / 2))
        return Figure::unknown(fmt::format(
            "the lines wander so much that it can't be told better than within {:.0f} ns", found->error * ns_per_px));
    return figure(found, ns_per_px, std::move(reason));
}

/// What jitter without edges may be wrong by beside its scatter, as `StepChanges` states its bias.
constexpr double of_changes_ns = 1.5, share_of_changes = 0.04;

/// What is, and what may not be, in the jitter without edges.
std::string how_lines_change(double jitter_px, const std::optional<double>& lasting_px, double ns_per_px) {
    const std::string how = "by how lines change from frame to frame: what is the same in all of them is not in it";
    if (!lasting_px) return how;
    // The median of five frames has so much of what is new in each of them.
    constexpr double random_share = std::numbers::pi / 2 / 5;
    const double lasting = std::max(0.0, *lasting_px * *lasting_px - random_share * jitter_px * jitter_px);
    return fmt::format("{}; with that, and with outlines that slant, it would be {:.0f} ns", how,
                       std::sqrt(lasting + jitter_px * jitter_px) * ns_per_px);
}

constexpr const char* with_codec_part = "up to 3 ns added for what DV takes of jitter";

/// Below, a bend or a step is small enough to be a recorder's own.
constexpr double least_skew_ns = 500, skew_in_errors = 5;

/// A tape that is longer or shorter than it was when recorded: the lines after the switch lie off, and so do those at
/// the top of the next field, until the picture has caught up; to the same side.
bool is_skew(const std::optional<Estimated>& flagging, const HeadSwitch& found, double ns_per_px) {
    if (!flagging || flagging->value * found.step_px <= 0) return false;
    const double least_px = least_skew_ns / ns_per_px;
    return std::abs(flagging->value) >= std::max(least_px, skew_in_errors * flagging->error) &&
           std::abs(found.step_px) >= std::max(least_px, skew_in_errors * found.step_error_px);
}

quantity::Event skew_event(const Estimated& flagging, const HeadSwitch& found, double ns_per_px) {
    quantity::Event event;
    event.kind = "skew", event.severity = quantity::Severity::Warning;
    event.what = fmt::format(
        "all through: a step of {:.0f} ns at the head switch, a bend of {:.0f} ns at the top: "
        "tape tension",
        found.step_px * ns_per_px, flagging.value * ns_per_px);
    return event;
}

}  // namespace

quantity::Figure LineDisplacement::rms_figure(const std::optional<Estimated>& found_px, double rough_px,
                                              std::string reason) const {
    if (!found_px) return Figure::unknown(std::move(reason));
    const Estimated found = beside_method_and_codec({found_px->value * ns_per_px_, found_px->error * ns_per_px_},
                                                    rough_px * ns_per_px_, codec_loss_);
    return Figure::measured(found.value, found.error, "ns");
}

quantity::Figure LineDisplacement::jitter_figure(const TimeBaseSums& sums) const {
    if (store_.has_edges()) {
        auto jitter = rms_figure(sums.jitter_px, sums.rough_px, too_few(store_));
        if (jitter.is_known() && codec_loss_) jitter.with_note(with_codec_part);
        return jitter;
    }
    const auto found = track_.step_changes().jitter_px();
    if (!found)
        return Figure::unknown(
            "no blanking at the picture's edges, and too few lines that show the same from frame to frame");
    const double value_ns = found->value * ns_per_px_;
    return Figure::measured(value_ns, std::hypot(found->error * ns_per_px_, of_changes_ns, share_of_changes * value_ns),
                            "ns")
        .with_note(how_lines_change(found->value, sums.lasting_px, ns_per_px_));
}

LineDisplacement::LineDisplacement(const ClipContext& context)
    : context_(context),
      usable_(context.info.picture.width >= least_width && context.info.picture.height >= least_height),
      ns_per_px_(nanoseconds_per_sample(context.info.picture, context.table)),
      codec_loss_(known_codec_loss(context.info, context.table)),
      track_(context.info.picture, black_code(context.info.picture, context.table),
             codec_edge_error(context.info, context.table)),
      lost_(context) {}

void LineDisplacement::see(const media::Frame& frame, const FrameFeatures& features) {
    frames_ = frame.index + 1;
    if (!usable_ || frame.damaged) return;
    place(frame);
    lost_.see(frame, features, track_);
}

/// The first frames once more as soon as it is known what their edges look like.
void LineDisplacement::place(const media::Frame& frame) {
    constexpr std::size_t learnt_from = 4;
    track_.see(frame);
    if (learns_) first_.push_back(frame);
    learns_ = first_.size() < learnt_from && learns_ && !track_.has_edges(1);
    const bool again = !learns_ && track_.has_edges(1);
    if (again)
        for (const media::Frame& one : first_) {
            track_.see(one);
            store_.add(one.index, track_);
            series_.add(one.index, track_);
        }
    if (!again || first_.empty()) store_.add(frame.index, track_), series_.add(frame.index, track_);
    if (!learns_) first_ = {};
}

void LineDisplacement::finish(quantity::Figures& figures, std::vector<quantity::Event>& events) {
    lost_.finish(events);
    if (!usable_ || store_.frames() < 2)
        return add_unknown(figures, !usable_ ? "the picture is too small to hold lines of a field"
                                    : frames_ < 2
                                        ? "fewer than two whole frames"
                                        : "fewer than two whole frames show where the picture ends on either side");
    const auto found = find_head_switch(store_);
    const std::size_t lines = std::min(store_.lines(0), store_.lines(1));
    const std::size_t end = found ? lines - static_cast<std::size_t>(found->lines) : lines;
    TimeBaseSums sums = time_base_sums(store_, end);
    const double all = static_cast<double>(sums.counted + sums.not_placed);
    const double lost = all > 0 ? 100 * static_cast<double>(sums.not_placed) / all : 0;
    if (store_.has_edges() && edges_of_dark_things(sums, ns_per_px_))
        return add_unknown(figures,
                           fmt::format("what looks like blanking at the picture's edges never shows at both ends "
                                       "of a line, and places {:.0f} % of the lines, {:.1f} µs apart: perhaps "
                                       "dark things in the picture",
                                       100 - lost, sums.rms_px->value * ns_per_px_ / 1000));
    auto rms =
        rms_figure(sums.rms_px, sums.rough_px, store_.has_edges() ? too_few(store_) : without_edges(sums, ns_per_px_));
    const bool by_codec = codec_loss_.has_value();
    if (rms.is_known())
        rms.with_note(
            fmt::format("by the blanking at the picture's edges and the picture itself; {:.1f} % of the lines "
                        "could not be placed{}{}",
                        lost, by_codec ? "; " : "", by_codec ? with_codec_part : ""));
    figures.add("time_base_error_rms", std::move(rms));
    figures.add("time_base_error_peak", figure(sums.peak_px, ns_per_px_, too_few(store_)));
    const auto beside_sines = add_motion_figures(figures, series_, end, frames_, context_, ns_per_px_, no_blanking);
    // Sines fitted to few of the fields, where a wander hides the rest, may be off by more than they explain.
    if (beside_sines && (!sums.flagging_px || beside_sines->error < sums.flagging_px->error))
        sums.flagging_px = beside_sines;
    figures.add("line_jitter_rms", jitter_figure(sums));
    figures.add("flagging",
                flagging_figure(sums.flagging_px, ns_per_px_,
                                store_.has_edges() ? "too few fields show their first lines' places" : no_blanking));
    constexpr const char* none = "no step that returns at one line near the bottom of the fields stands out";
    if (!found) {
        figures.add("head_switch_line", Figure::unknown(none));
        figures.add("head_switch_step", Figure::unknown(none));
        return;
    }
    if (is_skew(sums.flagging_px, *found, ns_per_px_))
        events.push_back(skew_event(*sums.flagging_px, *found, ns_per_px_));
    figures.add("head_switch_line", Figure::measured(found->lines, found->lines_error, "lines"));
    figures.add("head_switch_step",
                Figure::measured(found->step_px * ns_per_px_, found->step_error_px * ns_per_px_, "ns")
                    .with_note(fmt::format("{:.0f} ns in the fields of the upper lines, {:.0f} ns in the others",
                                           found->step_by_parity_px[0] * ns_per_px_,
                                           found->step_by_parity_px[1] * ns_per_px_)));
}

}  // namespace guardband::measure
