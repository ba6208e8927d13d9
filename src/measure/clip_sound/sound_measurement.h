#pragma once

#include <string>

#include "measure/clip_measurement.h"

namespace guardband::measure {

/// A measurement of a clip's sound alone: pictures go by.
class SoundMeasurement : public ClipMeasurement {
public:
    explicit SoundMeasurement(const ClipContext& context) : context_(context) {}
    void see(const media::Frame&, const FrameFeatures&) override {}

protected:
    /// Why nothing can be measured whatever was heard; empty if there is sound.
    std::string without_sound() const;
    /// 0 if there is no sound, or none that can be measured.
    double sample_rate_hz() const;

    const ClipContext& context_;
};

/// The same for a measurement that looks at the pictures, too.
std::string without_sound(const media::ClipInfo& info);

}  // namespace guardband::measure
