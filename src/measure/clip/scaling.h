#pragma once

#include <optional>
#include <span>
#include <vector>

#include "measure/clip/resampling_trace.h"
#include "measure/clip/step_coherence.h"
#include "measure/clip_measurement.h"

namespace guardband::measure {

/// `scaled_from_width` (samples) and `scaled_from_height` (frame lines): what the pictures measured before somebody
/// scaled them to what the clip holds.
///
/// Method: the difference of two frames, so that what stands still drops out and noise and motion are left: scaling is
/// linear, so it leaves the same trace in a difference as in a picture. `RoughnessProfile` finds the trace along some
/// rows of each frame and down some columns, of each field and of whole frames. What comes round in the pictures' mean
/// levels too is a pattern of theirs. A trace of f cycles per sample in N samples is left by a scaling from N (1 − f),
/// from N (1 + f), from N f and from N (2 − f) alike, and one of whole frames shows in fields as well: which it was
/// tells `StepCoherence`. Where it leaves several, the one that alone is in use is given, the others as alternatives;
/// else the reason names them. Within one sample or line.
///
/// FFmpeg's scaler, five filters, a second of photographs and drawings with noise of 40 to 46 dB in them before, as
/// counted: stretched ones found in 26 of 34, shrunk by less than an eighth in 6 of 8, by more in 1 of 12; none wrong,
/// and none in clips that were not scaled.
///
/// Can't tell: what `RoughnessProfile` can't; pictures without noise that stand still or hold no fine detail; scaling
/// before noise of the tape came on top and drowned it; scalers that look for edges.
class Scaling final : public ClipMeasurement {
public:
    explicit Scaling(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    void add_levels(const FrameFeatures& features);
    void see_rows(const media::Frame& frame);
    void add_sharpened(std::span<const float> row);
    void see_columns(const media::Frame& frame);
    void read_change(const media::Frame& frame, int y, int x, int count, float* out) const;
    quantity::Figure width_figure() const;
    quantity::Figure height_figure() const;

    const ClipContext& context_;
    int width_, height_;
    bool usable_;
    RoughnessProfile along_, down_fields_, down_frames_;
    StepCoherence along_coherence_, down_coherence_;
    std::optional<media::Frame> previous_;
    std::vector<double> column_levels_, field_levels_, frame_levels_;  ///< sums, by column and by line
    std::vector<float> sharpened_;                                     ///< second differences along a row
    std::vector<float> column_;                                        ///< of changes, from top to bottom
    std::vector<float> change_;                                        ///< of a row, or of the columns row by row
    std::int64_t frames_ = 0, looked_at_ = 0;
};

}  // namespace guardband::measure
