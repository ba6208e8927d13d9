#pragma once

#include <vector>

#include "measure/clip_measurement.h"

namespace guardband::measure {

/// Events of frames that the pictures show to be missing: `missing`, and `slip` where a frame that stands twice makes
/// up for it within two seconds, as in a frame store whose clocks differ. Such a pair is one event; pairs that follow
/// one another are one, too. What the time stamps
/// tell already is not told again. No figure; takes the place of the `repeated` events that it pairs.
class Slips final : public ClipMeasurement {
public:
    explicit Slips(const ClipContext& context) : context_(context) {}
    void see(const media::Frame&, const FrameFeatures&) override {}
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    const ClipContext& context_;
};

}  // namespace guardband::measure
