#pragma once

#include "measure/clip/codec_loss.h"
#include "measure/clip/displacement_series.h"
#include "measure/clip/displacement_store.h"
#include "measure/clip/displacement_track.h"
#include "measure/clip/lost_lines.h"
#include "measure/clip/time_base_sums.h"
#include "measure/clip_measurement.h"

namespace guardband::measure {

/// `time_base_error_rms`, `time_base_error_peak`, `line_jitter_rms`, `flagging`, `head_switch_line`,
/// `head_switch_step`, and through `add_motion_figures` `time_base_components` and `time_base_error_fixed`;
/// events by `LostLines`, and `skew` where a bend at the top and a step at the switch go together.
///
/// Method: `DisplacementTrack` places each line, `DisplacementStore` keeps what it found, `find_head_switch` and
/// `time_base_sums` make the figures. Every frame is taken for two fields, whatever its scan.
///
/// Scatter of single lines at 40 dB, edges of 300 ns: 5 to 9 ns where the scene moves, so that the picture under one of
/// the edges is known; at rest 6 to 8 after a second if lines lie 50 ns off at random, 8 to 11 if 200, and 20 where
/// something dark hides one edge of a third of the lines. Edges of 140 ns: 4 to 5. DV adds some 2 ns. The first four
/// frames, from which edges are learnt, are kept until then and placed as well. Bias of the figures: below 3 ns at 40
/// dB, 8 ns at 30 dB; of the peak, 15 ns. Where the scene moves straight up or down beside edges of 300 ns, what shifts
/// them goes along them; `SceneAgreement` tells most of it from displacements. RMS of what is left of clips without
/// fault of 1.6 s: 2 ns at 42 dB, 3 ns at 30 dB; of single ones 5 and 9 ns; the uncertainty says so.
///
/// Needs blanking at the picture's edges, three samples of it. Without it the jitter from line to line (`StepChanges`)
/// and a head switch are to be had, from moving or upright detail on both sides of the picture, and within the reason
/// why there is no RMS, what changes from field to field within the fields.
///
/// Dark things that move at both edges look like blanking: no figures where hardly a line shows both
/// edges, many none, and the rest lies far apart.
///
/// Can't tell: how far all lines together lie off; what a codec took, but where the table knows (`CodecLoss`). Where
/// one line in five is hit by dropouts, steady motions read up to 7 % low. A wander that is much larger than the
/// blanking shows both edges of few lines only: it takes seconds until these are enough.
class LineDisplacement final : public ClipMeasurement {
public:
    explicit LineDisplacement(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    quantity::Figure rms_figure(const std::optional<Estimated>& found_px, double rough_px, std::string reason) const;
    quantity::Figure jitter_figure(const TimeBaseSums& sums) const;

    void place(const media::Frame& frame);

    const ClipContext& context_;
    bool usable_;
    std::int64_t frames_ = 0;  ///< of the clip
    double ns_per_px_;
    std::optional<CodecLoss> codec_loss_;
    DisplacementTrack track_;
    std::vector<media::Frame> first_;  ///< until edges place their lines too; they share the samples
    bool learns_ = true;
    DisplacementStore store_;
    DisplacementSeries series_;
    LostLines lost_;
};

}  // namespace guardband::measure
