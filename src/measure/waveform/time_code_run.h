#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "calc/time_code.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// The time code of a recording, held against its own frames.
///
/// Each reading is the label of its frame less the frames that passed by the count of lines; readings of first and of
/// second fields each for themselves, since a frame's label may begin with either. Where that changes and the next
/// reading of its kind agrees, the code has jumped: a line that was misread makes no jump, it is a stray. Memory is
/// bounded: after a thousand jumps they are only counted.
class TimeCodeRun {
public:
    explicit TimeCodeRun(calc::TimeCodeRate plain, std::optional<calc::TimeCodeRate> dropping)
        : plain_(plain), dropping_(dropping) {}

    /// @param frames  since the recording's first, by the count of lines; halves for second fields
    void see(const calc::TimeCode& code, double frames, bool second_field, double time_s);

    const std::optional<calc::TimeCode>& first() const { return first_; }
    const std::optional<calc::TimeCode>& last() const { return last_; }
    std::int64_t jumps() const { return jumps_; }
    /// Readings that neither run on nor make a jump.
    std::int64_t strays() const { return strays_; }
    const std::vector<quantity::Event>& events() const { return events_; }
    /// `10:00:00:00 to 10:00:04:24, without a jump`; only once there is a first code.
    std::string words() const;

private:
    struct Reading {
        double number = 0, frames = 0, time_s = 0;
        calc::TimeCode code;
    };
    /// Of one kind of field: what the code runs on from, and what may be a jump.
    struct Run {
        std::optional<Reading> from, candidate;
    };
    bool runs_on(const Reading& from, const Reading& to) const;
    void add_jump(const Reading& from, const Reading& to);
    std::optional<double> number_of(const calc::TimeCode& code) const;
    const calc::TimeCodeRate& rate(bool drop) const { return drop && dropping_ ? *dropping_ : plain_; }

    calc::TimeCodeRate plain_;
    std::optional<calc::TimeCodeRate> dropping_;
    std::optional<calc::TimeCode> first_, last_;
    std::array<Run, 2> runs_;
    std::int64_t jumps_ = 0, strays_ = 0;
    std::vector<quantity::Event> events_;
};

}  // namespace guardband::measure
