#include "measure/clip_sound/sound_measurement.h"

#include <fmt/format.h>

namespace guardband::measure {
namespace {

/// Beyond these a header's rate is a mistake or meant to do harm: filters would grow with it.
constexpr double lowest_rate_hz = 1000, highest_rate_hz = 400'000;

bool can_be_measured(double rate_hz) { return rate_hz >= lowest_rate_hz && rate_hz <= highest_rate_hz; }

}  // namespace

std::string without_sound(const media::ClipInfo& info) {
    if (info.sound && can_be_measured(info.sound->sample_rate_hz)) return {};
    if (info.sound)
        return fmt::format("its sampling rate of {:g} Hz is none that sound is measured at",
                           info.sound->sample_rate_hz);
    if (!info.has_sound) return "the clip has no sound";
    return info.sound_trouble.empty() ? "its sound was not read" : info.sound_trouble;
}

double SoundMeasurement::sample_rate_hz() const {
    const auto& sound = context_.info.sound;
    return sound && can_be_measured(sound->sample_rate_hz) ? sound->sample_rate_hz : 0;
}

std::string SoundMeasurement::without_sound() const { return measure::without_sound(context_.info); }

}  // namespace guardband::measure
