#include "measure/clip/repeated_fields.h"

#include <algorithm>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "measure/clip/flat_picture.h"
#include "measure/clip/luma_range.h"
#include "measure/clip/repeat_pattern.h"
#include "measure/field_order.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

/// Fields in which a clip must have shown its noise before a freeze can be told from a still stretch.
constexpr std::int64_t fewest_quiet_fields = 8;
/// The quietest parts of a frozen picture comb as those of a running one do, within noise and what is shown; drawn
/// pictures don't at all.
constexpr double least_detail_share = 0.25;
constexpr std::size_t most_events = 1000, most_flat = 1000;
/// Fields on end from which a repeat is a freeze.
constexpr std::int64_t fewest_of_standstill = 10;
/// Four frames of film lie on ten fields, two of which are repeats, five fields apart.
constexpr std::int64_t pulldown_distance = 5;
constexpr std::size_t fewest_of_pulldown = 6;
/// Edits break the pattern, and so does a lost repeat.
constexpr double least_pulldown_share = 0.8;

/// Whether a run of exact copies is a freeze: it must carry the noise that the clip has elsewhere, or what moves must
/// jump after it to where it would have been.
bool is_freeze(const RepeatRun& run, const QuietLevel& quiet) {
    return run.catches_up || (quiet.fields >= fewest_quiet_fields &&
                              static_cast<double>(run.detail) >= least_detail_share * quiet.detail);
}

RepeatedStretch stretch_of(const RepeatRun& run, bool second_field) {
    const std::int64_t offset = second_field ? 1 : 0;
    return {2 * run.first_frame + offset, 2 * (run.first_frame + run.frames - 1) + offset, run.frames, run.time_s};
}

std::vector<RepeatedStretch> join(std::vector<RepeatedStretch> stretches) {
    std::ranges::sort(stretches, {}, &RepeatedStretch::first);
    std::vector<RepeatedStretch> joined;
    for (const RepeatedStretch& next : stretches) {
        if (joined.empty() || next.first > joined.back().last + 2) {
            joined.push_back(next);
            continue;
        }
        joined.back().last = std::max(joined.back().last, next.last);
        joined.back().count += next.count;
    }
    return joined;
}

/// Adds those doubtful stretches to the sure ones that belong to an even pattern of both.
/// @returns how many fields are left out
std::int64_t leave_out(const std::vector<RepeatedStretch>& doubtful, std::vector<RepeatedStretch>& sure) {
    if (doubtful.empty()) return 0;
    std::vector<RepeatedStretch> all = sure;
    all.insert(all.end(), doubtful.begin(), doubtful.end());
    all = join(std::move(all));
    const auto pattern = find_pattern(all);
    std::int64_t left_out = 0;
    for (const RepeatedStretch& one : doubtful) {
        const auto within = std::ranges::upper_bound(all, one.first, {}, &RepeatedStretch::first) - all.begin() - 1;
        if (pattern && pattern->belongs[static_cast<std::size_t>(within)])
            sure.push_back(one);
        else
            left_out += one.count;
    }
    return left_out;
}

/// Whether single repeats come five fields after one another, as film at 24 frames/s has them on 60 fields.
bool is_pulldown(const std::vector<RepeatedStretch>& stretches) {
    if (stretches.size() < fewest_of_pulldown) return false;
    std::size_t even = 0;
    for (std::size_t i = 1; i < stretches.size(); ++i)
        even += stretches[i].count == 1 && stretches[i].first - stretches[i - 1].first == pulldown_distance;
    return static_cast<double>(even) >= least_pulldown_share * static_cast<double>(stretches.size() - 1);
}

std::string note_on(std::int64_t still, bool pulldown) {
    std::string note;
    if (pulldown) note = "every fifth field, by design: the 2:3 pull-down of film";
    if (still > 0)
        note += fmt::format(
            "{}{} more fields are equal to the one before in stretches that carry no noise; they may show a picture "
            "that "
            "stands still",
            note.empty() ? "" : "; ", still);
    return note;
}

/// Whether all fields over a time stand, as where a corrector holds a frame.
bool is_standstill(const RepeatedStretch& stretch) {
    return stretch.count >= fewest_of_standstill && stretch.last - stretch.first + 1 == stretch.count;
}

quantity::Event event_of(const RepeatedStretch& stretch, quantity::Severity severity) {
    quantity::Event event;
    event.kind = "repeated", event.severity = severity;
    event.time_s = stretch.time_s;
    event.frame = stretch.first / 2, event.field = stretch.first, event.count = stretch.count;
    event.what = stretch.count == 1
                     ? fmt::format("field {} repeats field {}", stretch.first, stretch.first - 2)
                     : fmt::format("{} fields from field {} on repeat those before them", stretch.count, stretch.first);
    if (is_standstill(stretch)) {
        event.kind = "freeze", event.severity = quantity::Severity::Fault;
        event.what = fmt::format("the picture stands still for {} frames", stretch.count / 2);
    }
    return event;
}

}  // namespace

RepeatedFields::RepeatedFields(const ClipContext& context)
    : context_(context),
      clock_(context.info.time_base),
      code_(luma_range(context.info.picture, context.table).per_8_bit_code),
      finders_{RepeatFinder(Parity::Top, context.info.is_lossy), RepeatFinder(Parity::Bottom, context.info.is_lossy)} {
    flat_.reserve(most_flat);
}

void RepeatedFields::note_flat(std::int64_t frame) {
    if (!flat_.empty() && flat_.back().last + 1 == frame)
        flat_.back().last = frame;
    else if (flat_.size() < most_flat)
        flat_.push_back({frame, frame});
}

/// Whether a run of repeats is flat and has none of the noise that the clip has elsewhere, as far as that is known.
bool RepeatedFields::is_drawn(const RepeatRun& run, const QuietLevel& quiet) const {
    if (quiet.fields >= fewest_quiet_fields && static_cast<double>(run.detail) >= least_detail_share * quiet.detail)
        return false;
    const auto after = std::ranges::upper_bound(flat_, run.first_frame, {}, &Frames::first);
    return after != flat_.begin() && (after - 1)->last >= run.first_frame + run.frames - 1;
}

void RepeatedFields::see(const media::Frame& frame, const FrameFeatures& features) {
    const double time_s = clock_.time_s(frame);
    if (luma_span(features.histogram).is_flat(code_)) note_flat(frame.index);
    finders_[0].add(features, frame.index, time_s, finders_[1]);
    finders_[1].add(features, frame.index, time_s, finders_[0]);
    ++frames_;
}

/// Takes one parity's repeats in.
void RepeatedFields::gather(std::size_t parity, Found& found) {
    RepeatFinder& finder = finders_[parity];
    finder.end(finders_[1 - parity]);
    found.count += finder.count(), found.changed += finder.changed();
    const bool second_field = (parity == 1) != bottom_comes_first(context_);
    for (const RepeatRun& run : finder.repeats()) {
        const bool sure = run.goes_on[second_field ? 1 : 0] ||
                          (run.exact && finder.quiet().fields >= fewest_quiet_fields);  // which has no noise of its own
        if (is_drawn(run, finder.quiet()))
            found.count -= run.frames;
        else
            (sure ? found.sure : found.doubtful).push_back(stretch_of(run, second_field));
    }
    for (const RepeatRun& run : finder.freezes()) {
        const bool freeze = is_freeze(run, finder.quiet());
        (freeze ? found.count : found.still) += run.frames;
        if (freeze) found.sure.push_back(stretch_of(run, second_field));
    }
}

void RepeatedFields::finish(quantity::Figures& figures, std::vector<quantity::Event>& events) {
    Found found;
    for (std::size_t parity = 0; parity < 2; ++parity) gather(parity, found);
    found.count -= leave_out(found.doubtful, found.sure);
    const std::int64_t count = found.count, still = found.still, changed = found.changed;
    std::vector<RepeatedStretch>& stretches = stretches_;
    if (frames_ < 2) return figures.add("repeated_fields", Figure::unknown("a repeat needs two frames to be seen"));
    if (changed == 0)
        return figures.add(
            "repeated_fields",
            Figure::unknown("nothing moves and there is no noise: every field is equal to the one before"));
    stretches = join(std::move(found.sure));
    const bool pulldown = is_pulldown(stretches);
    figures.add("repeated_fields", Figure::counted(count, "fields").with_note(note_on(still, pulldown)));

    const auto severity = pulldown ? quantity::Severity::Note : quantity::Severity::Warning;
    for (std::size_t i = 0; i < std::min(stretches.size(), most_events); ++i)
        events.push_back(event_of(stretches[i], severity));
    if (stretches.size() > most_events)
        events.back().what += fmt::format("; so do fields at {} more places", stretches.size() - most_events);
}

}  // namespace guardband::measure
