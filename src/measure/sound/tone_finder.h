#pragma once

#include <optional>
#include <string>

#include "media/sound.h"

namespace guardband::measure {

/// Where in a recording a steady tone begins.
struct FoundTone {
    int channel = 0;          ///< the one that is clearest in it
    double frequency_hz = 0;  ///< to about 1 %
    double start_s = 0;       ///< from the start of what is read
    double power_share = 0;   ///< of the tone in all sound above 200 Hz
};

/// What a search for a tone came to: the tone, or what there was instead.
struct ToneSearch {
    std::optional<FoundTone> tone;
    std::string instead;  ///< `silence: …`, `noise or music: …`; for people; empty if there is a tone
};

/// Looks for a steady tone from 700 Hz to 20 kHz: quarter seconds whose spectrum has at least half of its power within
/// 4 % of its highest line, one after another for a second and at frequencies within 6 %. Hum below 200 Hz does not
/// count. Reads no further than needed.
/// @param channel  the one to look at; the clearest of the first eight if absent
/// @throws InputError as `SoundReader::next`; or if the rate of the samples is too low for a tone
ToneSearch find_tone(media::SoundReader& sound, std::optional<int> channel);

/// Lowest and highest tone that is looked for, Hz.
constexpr double lowest_tone_hz = 700, highest_tone_hz = 20'000;

}  // namespace guardband::measure
