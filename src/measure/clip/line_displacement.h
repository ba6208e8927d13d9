#pragma once

#include "measure/clip/displacement_store.h"
#include "measure/clip/displacement_track.h"
#include "measure/clip_measurement.h"

namespace guardband::measure {

/// `time_base_error_rms`, `time_base_error_peak`, `line_jitter_rms`, `flagging`, `head_switch_line` and
/// `head_switch_step`.
///
/// Method: `DisplacementTrack` places each line, `DisplacementStore` keeps what it found, `find_head_switch` and
/// `time_base_sums` make the figures. Every frame is taken for two fields, whatever its scan. Bias and scatter: in the
/// tests' tables. Needs blanking at the picture's edges to be exact; without it the steps from line to line are as
/// sure, but slow courses down the field only become so with the length of a moving clip, and the uncertainty says so.
/// Can't tell: how far all lines together lie off; without blanking, how far a field as a whole does.
class LineDisplacement final : public ClipMeasurement {
public:
    explicit LineDisplacement(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    bool usable_;
    double ns_per_px_;
    DisplacementTrack track_;
    DisplacementStore store_;
};

}  // namespace guardband::measure
