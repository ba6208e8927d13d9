#pragma once

#include "dsp/level_histogram.h"
#include "measure/waveform/field_layout.h"
#include "measure/waveform/line_clock.h"
#include "measure/waveform/tally.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// `sync_width`, `front_porch`, `sync_amplitude`: means over the lines of the picture.
///
/// Front porch: from where the picture's end passes half of its height above blanking to the leading edge of sync; only
/// lines whose picture ends brighter than a sixth of sync's depth tell it, and the median of them counts. Bias: that of
/// a picture that fades towards its edge.
class LineShape {
public:
    LineShape(const FieldLayout& layout, double rate_hz, double scaled_us, float depth);

    void see_line(const VideoLine& line, const SampleWindow& window);
    /// @param mv_per_unit  as the user gave it; 0 if levels go by sync
    void finish(quantity::Figures& figures, double mv_per_unit) const;
    double depth() const { return depth_.mean(); }

private:
    void see_front_porch(const VideoLine& line, const SampleWindow& window);

    FieldLayout layout_;
    double rate_hz_, us_;
    float expected_depth_;
    SyncFilter filter_;
    Tally width_, depth_;
    dsp::LevelHistogram porch_us_;
    std::int64_t lines_ = 0;
    std::vector<float> values_;
};

}  // namespace guardband::measure
