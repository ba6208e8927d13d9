#include "measure/clip/cadence.h"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "measure/clip/luma_range.h"
#include "measure/field_order.h"
#include "measure/interlace_evidence.h"
#include "measure/picture_gaps.h"
#include "measure/stamp_evidence.h"

namespace guardband::measure {
namespace {

using quantity::Event;
using quantity::Figure;
using Scan = InterlaceEvidence::Scan;

/// Windows that must show a pattern, and their share of those in which enough moves.
constexpr std::int64_t fewest_windows = 2;
constexpr double least_share = 0.5;
/// Rates closer than this are one rate; rates of two standards differ by a fifth, within the second figure.
constexpr double same_rate = 0.005, ratio_of_standards = 1.2, ratio_tolerance = 0.005;
/// Of six frames one is left out, so one jump in five frames.
constexpr std::int64_t jump_distance = 5;
constexpr std::size_t fewest_jumps = 4;

constexpr std::int64_t most_of_a_step = 3;

bool near(double a, double b, double tolerance) { return std::abs(a / b - 1) < tolerance; }

void add_note(quantity::Figures& figures, const char* id, const std::string& text) {
    Figure* figure = figures.find(id);
    if (figure == nullptr || !figure->is_known()) return;
    if (figure->note().find("by design") != std::string::npos) return;
    figure->with_note(figure->note().empty() ? text : text + "; " + figure->note());
}

}  // namespace

Cadence::Cadence(const ClipContext& context)
    : context_(context), window_(luma_range(context.info.picture, context.table).black) {}

double Cadence::frame_rate_hz() const {
    if (const auto rate = context_.stamps.frame_rate()) return rate->hz;
    return context_.info.declared_frame_rate ? context_.info.declared_frame_rate->value() : 0;
}

std::optional<double> Cadence::field_rate_hz() const {
    const double rate_hz = frame_rate_hz();
    if (rate_hz <= 0) return std::nullopt;
    // Frames that follow as fast as fields carry one each.
    for (const table::Scanning& scanning : context_.table.scannings)
        for (const double per_frame : {1.0, 2.0})
            if (near(rate_hz * per_frame, scanning.field_rate().value(), same_rate)) return rate_hz * per_frame;
    return std::nullopt;
}

/// The field rate of the standards that have another, a fifth away.
std::optional<double> Cadence::other_rate_hz() const {
    const auto own_hz = field_rate_hz();
    if (!own_hz) return std::nullopt;
    for (const table::Scanning& scanning : context_.table.scannings) {
        const double other_hz = scanning.field_rate().value();
        if (near(std::max(other_hz, *own_hz) / std::min(other_hz, *own_hz), ratio_of_standards, ratio_tolerance))
            return other_hz;
    }
    return std::nullopt;
}

void Cadence::see(const media::Frame&, const FrameFeatures& features) {
    ++frames_;
    if (window_.add(features)) judge_window();
}

void Cadence::judge_window() {
    if (!window_.moves()) return;
    ++votes_.moving;
    const bool fields = context_.interlace.scan() != Scan::Progressive;
    const MotionSeries by_field = window_.fields(bottom_comes_first(context_));
    if (window_.lies_across_frames(bottom_comes_first(context_))) ++votes_.across_frames;
    const auto own_hz = field_rate_hz(), other_hz = other_rate_hz();
    if (!own_hz || !other_hz) return;
    const double ratio = *other_hz / *own_hz;
    const auto vote = [this](Kind kind) { ++votes_.kinds[static_cast<std::size_t>(kind)]; };
    const auto of_fields = fields ? fit_conversion(by_field, ratio, true) : std::nullopt;
    const auto of_frames = fit_conversion(window_.whole_frames(), ratio, false);
    if (of_fields && (!of_frames || of_fields->significance >= of_frames->significance))
        vote(of_fields->method == ConversionFit::Method::Blend ? Kind::MixedFields : Kind::SteppedFields);
    else if (of_frames)
        vote(Kind::MixedFrames);
}

bool Cadence::frames_left_out() const {
    const auto gaps = context_.picture_gaps.gaps();
    if (gaps.size() < fewest_jumps) return false;
    std::size_t even = 0, next = 0;
    for (std::size_t i = 1; i < gaps.size(); ++i) {
        const std::int64_t distance = gaps[i].frame - gaps[i - 1].frame;
        even += gaps[i].frames == 1 && distance % jump_distance == 0 ? 1 : 0;
        next += distance == jump_distance ? 1 : 0;
    }
    // Some aren't seen, where little moves; but a capture that loses one frame in eleven is no conversion.
    return static_cast<double>(even) >= 0.8 * static_cast<double>(gaps.size() - 1) && 4 * next >= gaps.size() - 1;
}

std::optional<Cadence::Conversion> Cadence::conversion(const std::optional<RepeatPattern>& pattern) const {
    const auto own_hz = field_rate_hz(), other_hz = other_rate_hz();
    if (!own_hz || !other_hz) return std::nullopt;
    if (pattern && pattern->cadence.empty() && *other_hz < *own_hz)
        return Conversion{*other_hz, "every fifth frame stands twice"};
    if (pattern) return std::nullopt;
    if (*other_hz > *own_hz && frames_left_out()) return Conversion{*other_hz, "every sixth frame was left out"};
    const auto most = std::ranges::max_element(votes_.kinds);
    if (*most < fewest_windows || static_cast<double>(*most) < least_share * static_cast<double>(votes_.moving))
        return std::nullopt;
    switch (static_cast<Kind>(most - votes_.kinds.begin())) {
        case Kind::MixedFields:
            return Conversion{*other_hz, "each field mixes two"};
        case Kind::MixedFrames:
            return Conversion{*other_hz, "each frame mixes two"};
        case Kind::SteppedFields:
            break;
    }
    return Conversion{*other_hz,
                      *other_hz > *own_hz ? "every sixth field was left out" : "every fifth field stands twice", true};
}

Figure Cadence::cadence_figure(const std::optional<RepeatPattern>& pattern) const {
    if (pattern && !pattern->cadence.empty())
        return Figure::text(std::string(pattern->cadence))
            .with_note(pattern->breaks == 0
                           ? "without a break"
                           : fmt::format("it begins anew at {} places, as after edits", pattern->breaks));
    const auto rate = field_rate_hz();
    const Scan scan = context_.interlace.scan();
    if (votes_.across_frames >= fewest_windows &&
        static_cast<double>(votes_.across_frames) >= 0.7 * static_cast<double>(votes_.moving) && !conversion(pattern))
        return Figure::text("2:2").with_note("the two fields of a picture lie in frames that follow one another");
    if (scan == Scan::Progressive && !rate) return Figure::unknown("the frames follow at no scanning standard's rate");
    if (scan == Scan::Progressive)
        return near(*rate, frame_rate_hz(), same_rate)
                   ? Figure::text("none").with_note("each frame is a moment of its own, at the rate of fields")
                   : Figure::text("2:2").with_note("both fields of a frame show one moment");
    if (scan == Scan::Unknown) return Figure::unknown("too little moves to tell");
    return Figure::text("none");
}

/// One event instead of those of the pattern's repeats.
void Cadence::merge_events(const RepeatPattern& pattern, const std::string& what, std::vector<Event>& events) const {
    const auto stretches = context_.repeats.repeated_stretches();
    std::int64_t count = 0;
    std::optional<std::size_t> first;
    std::vector<std::int64_t> fields;
    for (std::size_t i = 0; i < stretches.size(); ++i)
        if (pattern.belongs[i]) {
            if (!first) first = i;
            count += stretches[i].count;
            fields.push_back(stretches[i].first);
        }
    std::erase_if(events, [&fields](const Event& event) {
        return event.kind == "repeated" && event.field && std::ranges::binary_search(fields, *event.field);
    });
    if (!first) return;
    Event event;
    event.kind = "cadence", event.severity = quantity::Severity::Note;
    event.time_s = stretches[*first].time_s;
    event.field = stretches[*first].first, event.frame = *event.field / 2, event.count = count;
    event.what = fmt::format("{} fields repeat others by design: {}", count, what);
    events.push_back(std::move(event));
}

void Cadence::finish(quantity::Figures& figures, std::vector<Event>& events) {
    const auto pattern = find_pattern(context_.repeats.repeated_stretches());
    const auto found = conversion(pattern);
    figures.add("cadence", cadence_figure(pattern));
    if (found)
        figures.add("converted_from", Figure::measured(found->from_hz, 0, "Hz").with_note(found->how));
    else
        figures.add("converted_from", Figure::unknown(votes_.moving < fewest_windows
                                                          ? "less than two seconds of motion, too little to tell"
                                                          : "no pattern of a standards conversion shows"));
    if (pattern && (found || !pattern->cadence.empty())) {
        const std::string what = found ? found->how : "cadence " + std::string(pattern->cadence);
        merge_events(*pattern, what, events);
        add_note(figures, "repeated_fields", "by design: " + what);
    }
    if (found && found->stepped_fields) {
        // A field that moves by half as much as others may pass for a repeat.
        std::erase_if(events,
                      [](const Event& event) { return event.kind == "repeated" && event.count <= most_of_a_step; });
        add_note(figures, "repeated_fields", "by design: " + found->how);
    }
    if (found && frames_left_out()) add_note(figures, "missing_frames", "by design: " + found->how);
}

}  // namespace guardband::measure
