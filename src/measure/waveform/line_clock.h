#pragma once

#include <cstdint>
#include <optional>

#include "measure/waveform/sync_pulse.h"
#include "measure/waveform/sync_survey.h"

namespace guardband::measure {

enum class PulseKind { Line, Equalising, Broad, Stray };

/// Where the pulses of field sync begin.
struct FieldStart {
    std::int64_t field = 0;  ///< counts from 0
    double place = 0;        ///< leading edge of the first broad pulse, samples
    bool half_line = false;  ///< it lies half way between the syncs of two lines
};

/// One line, as its sync shows it.
struct VideoLine {
    std::int64_t number = 0;  ///< counts lines from the first, those whose sync is missing included
    PulseKind kind = PulseKind::Line;
    SyncPulse sync;
    double period = 0;                ///< of lines nearby, samples
    std::optional<FieldStart> field;  ///< that it belongs to; nothing before the first
    /// Lines since the field's start, 0 for the first whose sync lies at it or after it; −1 without a field.
    int in_field = -1;
};

/// Who is told of lines and fields, in the order of time.
class LineSink {
public:
    virtual ~LineSink() = default;
    /// @param window  holds the samples of the line and of some before it
    virtual void see_line(const VideoLine& line, const SampleWindow& window) = 0;
    virtual void see_field(const FieldStart&) {}
};

/// Counts lines and fields from timed pulses. A pulse is the next line's if it comes within a sixth of a line of where
/// that is due, whatever was missing in between; pulses half way between lines are field sync's. The pace follows the
/// lines slowly. After some lines off the pace it starts anew. A field starts with a broad pulse that another follows
/// half a line later, or with the only one of systems that have just one.
class LineClock {
public:
    LineClock(const SyncShape& shape, LineSink& sink);
    void see(const SyncPulse& pulse, const SampleWindow& window);

    std::int64_t lines() const { return number_ + 1 - lost_; }  ///< found
    std::int64_t lost_lines() const { return lost_; }           ///< due and not found
    std::int64_t restarts() const { return restarts_; }         ///< how often the pace was lost
    std::int64_t strays() const { return strays_; }

private:
    PulseKind kind_of(const SyncPulse& pulse) const;
    bool lock(const SyncPulse& pulse, PulseKind kind);
    void take(const SyncPulse& pulse, PulseKind kind, std::int64_t lines, const SampleWindow& window);
    void watch_field(const SyncPulse& pulse);
    void begin_field(double place);

    LineSink& sink_;
    double nominal_period_, width_, period_;
    bool one_broad_pulse_;
    bool locked_ = false;
    std::optional<double> candidate_;  ///< the last pulse of a line's width, while not on the pace
    int candidate_run_ = 0;
    double last_lead_ = 0;
    std::int64_t number_ = -1;
    std::optional<FieldStart> field_;
    double last_broad_ = -1e18;
    std::int64_t lost_ = 0, restarts_ = 0, strays_ = 0;
};

}  // namespace guardband::measure
