#pragma once

#include <cstdint>
#include <span>

namespace guardband::measure {

/// Fields that follow one another and show what those of their parity before them showed. Numbers count in the order of
/// time.
struct RepeatedStretch {
    std::int64_t first = 0, last = 0, count = 0;
    double time_s = 0;  ///< of the first
};

/// Which fields repeat others. Complete once the measurement that finds them has finished.
class RepeatEvidence {
public:
    virtual ~RepeatEvidence() = default;

    /// In the order of time, bounded in number.
    virtual std::span<const RepeatedStretch> repeated_stretches() const = 0;
};

}  // namespace guardband::measure
