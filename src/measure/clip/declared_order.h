#pragma once

#include "measure/clip_measurement.h"
#include "measure/event_log.h"
#include "measure/frame_clock.h"

namespace guardband::measure {

/// `field_order_declared`, text: what the file says of the order of its fields, frame by frame: `top first`, `bottom
/// first`, `progressive`, or `changes` if it says one thing of some frames and another of others; each change is an
/// event `declared order`. Says nothing of what the pictures show: that is `field_order`.
class DeclaredFieldOrder final : public ClipMeasurement {
public:
    explicit DeclaredFieldOrder(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    media::DeclaredOrder last_ = media::DeclaredOrder::Unknown;  ///< of the last frame of which the file said anything
    FrameClock clock_;
    EventLog changes_;
};

}  // namespace guardband::measure
