#include "measure/clip/slips.h"

#include <algorithm>
#include <cstdlib>
#include <string>

#include <fmt/format.h>

#include "measure/picture_gaps.h"

namespace guardband::measure {
namespace {

using quantity::Event;
using quantity::Severity;

/// Frames from a repeat to the gap that it makes up for, and from one pair to the next that joins it.
constexpr std::int64_t reach = 50, join_within = 250;

bool is_whole_frames(const Event& event, std::int64_t frames) {
    return event.kind == "repeated" && event.frame && event.count == 2 * frames;
}

Event event_of(const PictureGap& gap) {
    Event event;
    event.frame = gap.frame, event.time_s = gap.time_s;
    event.severity = Severity::Warning;
    return event;
}

}  // namespace

void Slips::finish(quantity::Figures& figures, std::vector<Event>& events) {
    const auto* missing = figures.find("missing_frames");
    if (missing != nullptr && missing->note().find("by design") != std::string::npos) return;
    std::vector<Event> found;
    for (const PictureGap& gap : context_.picture_gaps.gaps()) {
        // Where the time stamps tell the same, once is enough.
        if (std::ranges::any_of(events, [&gap](const Event& event) {
                return event.kind == "stamp gap" && event.frame && std::abs(*event.frame - gap.frame) <= 1;
            }))
            continue;
        const auto repeat = std::ranges::find_if(events, [&gap](const Event& event) {
            return is_whole_frames(event, gap.frames) && std::abs(*event.frame - gap.frame) <= reach;
        });
        Event event = event_of(gap);
        if (repeat == events.end()) {
            event.kind = "missing", event.count = gap.frames;
            event.what = fmt::format("{} missing, as the pictures show",
                                     gap.frames == 1 ? "a frame is" : fmt::format("{} frames are", gap.frames));
            found.push_back(std::move(event));
            continue;
        }
        const std::int64_t apart = gap.frame - *repeat->frame;
        event.kind = "slip", event.count = 1;
        event.what = fmt::format("{} missing, {} repeated {} frames {}", gap.frames == 1 ? "a frame is" : "frames are",
                                 gap.frames == 1 ? "one" : "as many", std::abs(apart), apart > 0 ? "before" : "later");
        events.erase(repeat);
        if (!found.empty() && found.back().kind == "slip" && *event.frame - *found.back().frame <= join_within) {
            found.back().count = *found.back().count + 1;
            found.back().what = fmt::format("{} times a frame is missing, another repeated", *found.back().count);
        } else {
            found.push_back(std::move(event));
        }
    }
    for (Event& event : found) events.push_back(std::move(event));
}

}  // namespace guardband::measure
