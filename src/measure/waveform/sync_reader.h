#pragma once

#include <span>
#include <vector>

#include "measure/waveform/line_clock.h"
#include "measure/waveform/pulse_slicer.h"
#include "measure/waveform/sync_filter.h"

namespace guardband::measure {

/// Samples in a microsecond; fewer where sync is narrower than 4.7 µs, since porches and edges are so as well.
double scaled_us(const SyncShape& shape, double rate_hz);

/// From samples to lines: keeps the latest of them, finds and times the pulses of sync and counts lines and fields.
/// Memory: some ten lines of samples, whatever the length of the stream.
class SyncReader {
public:
    /// @param sink  is told of lines and fields; outlives this
    SyncReader(const SyncShape& shape, double rate_hz, LineSink& sink);

    /// Samples that follow those before, as they are in the file.
    void see(std::span<const float> samples);
    void finish();

    const LineClock& clock() const { return clock_; }

private:
    void slice_new();
    void time_pulses();
    void follow_depth(const SyncPulse& pulse);

    SyncShape shape_;
    float sign_;
    double scaled_us_;
    int step_;
    SyncFilter filter_;
    PulseSlicer slicer_;
    LineClock clock_;
    SampleWindow window_;
    std::int64_t first_ = 0, next_ = 0;  ///< places of the first and of the next filtered value
    std::vector<float> series_, scratch_;
    std::vector<CrudePulse> pulses_;
    float depth_;
};

}  // namespace guardband::measure
