#pragma once

#include "measure/clip_measurement.h"

namespace guardband::measure {

/// `field_rate`, Hz: fields per second of the picture that the clip carries.
///
/// Method: from `frame_rate`. Two fields to a frame where the scan is interlaced or mixed, and on any raster of the
/// table that is as high as a scanning standard's (a picture of 576 lines at 25 frames/s came from fields, even if both
/// were taken at once); one field to a frame where such a raster already runs at about the field rate, as after turning
/// each field into a frame. Bias and scatter: those of `frame_rate`. On other progressive clips there are no fields,
/// and it says so. Can't tell the rate before a standards conversion.
class FieldRate final : public ClipMeasurement {
public:
    explicit FieldRate(const ClipContext& context) : context_(context) {}
    void see(const media::Frame&, const FrameFeatures&) override {}
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    const ClipContext& context_;
};

}  // namespace guardband::measure
