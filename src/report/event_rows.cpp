#include "report/event_rows.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <span>

#include "report/event_runs.h"

namespace guardband::report {
namespace {

using quantity::Event;

/// Dropouts that follow each other by no more than this are told together.
constexpr double most_gap_s = 2;

bool is_piece(const Event& event) { return event.length_us && event.line; }
bool is_dropout(const Event& event) { return is_piece(event) || event.kind == "dropouts"; }

/// Dropouts that go on one after the other, told together. @param end  one past the last of them
EventRow dropouts_row(std::span<const Event> events, std::size_t first, std::size_t end) {
    const Event& event = events[first];
    EventRow row{event.time_s, event.frame, event.severity, event.what};
    std::map<std::string, std::int64_t> kinds;
    double longest_us = 0;
    std::int64_t count = 0;
    for (const Event& other : events.subspan(first, end - first)) {
        if (!is_dropout(other)) continue;
        const std::int64_t here = other.count.value_or(1);
        count += here, kinds[is_piece(other) ? other.kind : "not listed"] += here;
        row.severity = std::max(row.severity, other.severity);
        longest_us = std::max(longest_us, other.length_us.value_or(0));
    }
    if (count == 1) return row;
    std::string of_each;
    for (const auto& [kind, number] : kinds)
        of_each += fmt::format("{}{} {}", of_each.empty() ? "" : ", ", number, kind);
    const double lasting_s = events[end - 1].time_s - event.time_s;
    // Those that are not listed have a first moment, and no last.
    const std::string lasting = kinds.contains("not listed") ? "from here on"
                                : lasting_s < 1              ? "within a second"
                                                             : fmt::format("within {:.0f} s", std::ceil(lasting_s));
    row.what = fmt::format("{} dropouts {} ({}), up to {:.1f} µs", count, lasting, of_each, longest_us);
    return row;
}

/// One past the last dropout of those that go on from the first.
std::size_t end_of_dropouts(std::span<const Event> events, std::size_t first) {
    std::size_t last = first;
    for (std::size_t i = first + 1; i < events.size(); ++i) {
        if (events[i].time_s > events[last].time_s + most_gap_s) break;
        if (is_dropout(events[i])) last = i;
    }
    return last + 1;
}

/// Events of one kind, told together.
EventRow row_of(std::span<const Event> events, const EventRun& run) {
    const Event &first = events[run.members.front()], &last = events[run.members.back()];
    EventRow row{first.time_s, first.frame, first.severity, first.what};
    bool same = true;
    for (const std::size_t i : run.members) {
        row.severity = std::max(row.severity, events[i].severity);
        same = same && events[i].what == first.what;
    }
    if (run.members.size() == 1) return row;
    row.what += same ? "; the same" : "; the like";
    if (run.every_frames)
        row.what += fmt::format(" every {:.4g} frames{}, {} times in all", *run.every_frames, run.exact ? "" : " or so",
                                run.members.size());
    else
        row.what += fmt::format(" {} times more", run.members.size() - 1);
    row.what += last.frame ? fmt::format(", the last at frame {}", *last.frame)
                           : fmt::format(", the last at {:.2f} s", last.time_s);
    return row;
}

}  // namespace

std::vector<EventRow> event_rows(const std::vector<Event>& events) {
    std::vector<EventRow> rows;
    std::vector<Event> others;
    std::size_t dropouts_told_to = 0;
    for (std::size_t i = 0; i < events.size(); ++i) {
        if (!is_dropout(events[i])) {
            others.push_back(events[i]);
        } else if (i >= dropouts_told_to) {
            dropouts_told_to = end_of_dropouts(events, i);
            rows.push_back(dropouts_row(events, i, dropouts_told_to));
        }
    }
    for (const EventRun& run : event_runs(others)) rows.push_back(row_of(others, run));
    std::ranges::stable_sort(rows, {}, &EventRow::time_s);
    return rows;
}

}  // namespace guardband::report
