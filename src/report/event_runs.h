#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "quantity/figure.h"

namespace guardband::report {

/// Events of one kind that are told together: where they stand among all, in the order of time; never empty.
struct EventRun {
    std::vector<std::size_t> members;
    std::optional<double> every_frames;  ///< from one to the next, where that is even
    bool exact = false;                  ///< it is the same each time
};

/// Groups events by what a person would say in one sentence: five and more of one kind that come back evenly, give or
/// take a tenth or a frame; and where more than eight of a kind are left, all but the first four. Each event is in one
/// run, alone if it needs a sentence of its own. Runs in the order of their first events.
std::vector<EventRun> event_runs(std::span<const quantity::Event> events);

}  // namespace guardband::report
