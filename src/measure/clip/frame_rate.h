#pragma once

#include <optional>
#include <span>
#include <vector>

#include "measure/clip/rate_fit.h"
#include "measure/clip/stamp_track.h"
#include "measure/clip_measurement.h"
#include "measure/event_log.h"
#include "measure/stamp_evidence.h"

namespace guardband::measure {

/// `frame_rate`, Hz: frames per second of undisturbed running, from the time stamps and not from the header's word.
/// `missing_frames`: how many are left out, by gaps in the stamps and by what the pictures show.
///
/// Method: stamps are put in a row of equal steps (`StampTrack`); through those that found a place goes a robust
/// straight line (`RateFit`), whose slope is the period. Missing frames don't lower the rate. Bias: none for stamps
/// rounded to a tick, as long as the rounding slips; where it never does, the uncertainty covers what it may hide.
/// Scatter: as stated with the figure. Needs two rising stamps. Can't tell a wrong clock from a wrong rate; nor the
/// rate of a clip most of whose stamps follow no row. A gap that both stamps and pictures show, within a frame, counts
/// once.
///
/// Events: `stamp gap`, `stamp jitter` (off by more than a tenth of a period and a tick; neighbours joined), `stamp
/// order` (a stamp not after the one before it, or a clock that starts anew).
class FrameRate final : public ClipMeasurement, public StampEvidence, private StampListener {
public:
    explicit FrameRate(const ClipContext& context);

    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

    std::optional<MeasuredRate> frame_rate() const override;
    std::span<const StampGap> stamp_gaps() const override;

private:
    void placed(const StampPlace& place, double slot, double ticks, std::int64_t segment) override;
    void astray(const StampPlace& place) override;
    void gap(const StampPlace& first_after, std::int64_t frames) override;
    void restart(const StampPlace& first_after) override;

    void note_off(const StampPlace& place);
    double time_s(const StampPlace& place) const { return place.at_ticks * tick_s_; }
    quantity::Figure rate_figure() const;
    quantity::Figure missing_figure() const;
    void report_events(std::vector<quantity::Event>& events) const;

    const ClipContext& context_;
    double tick_s_;
    StampTrack track_;
    std::optional<RateFit> fit_;
    EventLog gaps_, jitter_, order_, restarts_;
    std::vector<StampGap> gap_list_;
};

}  // namespace guardband::measure
