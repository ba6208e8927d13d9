#pragma once

#include <functional>
#include <memory>
#include <vector>

#include "media/sound.h"

namespace guardband::support {

/// Samples at hand as a recording that a measurement can read, again and again.
std::function<std::unique_ptr<media::SoundReader>()> sound_of(std::vector<std::vector<float>> channels,
                                                              double sample_rate_hz);
std::function<std::unique_ptr<media::SoundReader>()> sound_of(std::vector<float> samples, double sample_rate_hz);

}  // namespace guardband::support
