#include "report/event_rows.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <span>

namespace guardband::report {
namespace {

using quantity::Event;

/// Damaged segments of lines that fall within one second, told together. @param first  of those that are left
EventRow dropouts_row(std::span<const Event> events, std::size_t first) {
    const Event& event = events[first];
    EventRow row{event.time_s, event.frame, event.severity, event.what};
    std::map<std::string, int> kinds;
    std::int64_t top = *event.line, bottom = *event.line;
    double longest_us = 0;
    int count = 0;
    for (const Event& other : events.subspan(first)) {
        if (std::floor(other.time_s) > std::floor(event.time_s)) break;
        if (!other.length_us || !other.line) continue;
        ++count, ++kinds[other.kind];
        row.severity = std::max(row.severity, other.severity);
        top = std::min(top, *other.line), bottom = std::max(bottom, *other.line);
        longest_us = std::max(longest_us, *other.length_us);
    }
    if (count == 1) return row;
    std::string of_each;
    for (const auto& [kind, number] : kinds)
        of_each += fmt::format("{}{} {}", of_each.empty() ? "" : ", ", number, kind);
    row.what = fmt::format("{} dropouts within a second ({}), up to {:.1f} µs, lines {} to {}", count, of_each,
                           longest_us, top, bottom);
    return row;
}

}  // namespace

std::vector<EventRow> event_rows(const std::vector<Event>& events) {
    std::vector<EventRow> rows;
    double dropouts_told_to_s = 0;
    for (std::size_t i = 0; i < events.size(); ++i) {
        const Event& event = events[i];
        if (!event.length_us || !event.line) {
            rows.push_back({event.time_s, event.frame, event.severity, event.what});
        } else if (event.time_s >= dropouts_told_to_s) {
            rows.push_back(dropouts_row(events, i));
            dropouts_told_to_s = std::floor(event.time_s) + 1;
        }
    }
    return rows;
}

}  // namespace guardband::report
