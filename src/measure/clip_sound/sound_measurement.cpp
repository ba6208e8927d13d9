#include "measure/clip_sound/sound_measurement.h"

namespace guardband::measure {

std::string without_sound(const media::ClipInfo& info) {
    if (info.sound) return {};
    if (!info.has_sound) return "the clip has no sound";
    return info.sound_trouble.empty() ? "its sound was not read" : info.sound_trouble;
}

std::string SoundMeasurement::without_sound() const { return measure::without_sound(context_.info); }

}  // namespace guardband::measure
