#pragma once

#include "measure/clip_measurement.h"

namespace guardband::measure {

/// `tv_system`, text: the scanning standard that the clip's raster and rate belong to, such as `625/50`.
///
/// Method: the table's rasters give the standards that a picture of this height can belong to; of these the one whose
/// frame rate, or field rate, the measured `frame_rate` meets. Needs `frame_rate`. Can't tell what the tape was
/// recorded in: a 525/60 tape that was standards-converted shows the standard it was converted to.
class TvSystem final : public ClipMeasurement {
public:
    explicit TvSystem(const ClipContext& context) : context_(context) {}
    void see(const media::Frame&, const FrameFeatures&) override {}
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    const ClipContext& context_;
};

}  // namespace guardband::measure
