#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "quantity/figure.h"

namespace guardband::report {

/// One row of the list of events that people read.
struct EventRow {
    double time_s = 0;
    std::optional<std::int64_t> frame;
    quantity::Severity severity = quantity::Severity::Note;
    std::string what;
};

/// What happened, in the order of time; dropouts that go on, with pauses of 2 s at most, in one row, and so what else
/// comes back again and again: see `event_runs`.
std::vector<EventRow> event_rows(const std::vector<quantity::Event>& events);

}  // namespace guardband::report
