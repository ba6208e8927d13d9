#include "measure/event_log.h"

#include <cmath>

namespace guardband::measure {

void EventLog::note(std::int64_t frame, double time_s, std::int64_t count, double value) {
    total_ += count;
    const bool joins =
        !occurrences_.empty() && (occurrences_.size() == capacity_ ||
                                  (join_within_ > 0 && frame - occurrences_.back().last_frame <= join_within_));
    if (!joins) {
        occurrences_.push_back({time_s, time_s, frame, frame, count, value});
        return;
    }
    Occurrence& last = occurrences_.back();
    last.end_s = time_s;
    last.last_frame = frame;
    last.count += count;
    if (std::abs(value) > std::abs(last.largest)) last.largest = value;
}

}  // namespace guardband::measure
