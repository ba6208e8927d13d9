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

/// What happened, in the order of time; dropouts that go on, with pauses of 2 s at most, in one row.
std::vector<EventRow> event_rows(const std::vector<quantity::Event>& events);

}  // namespace guardband::report
