#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "testsignal/gaussian_noise.h"
#include "testsignal/tone_maker.h"

namespace guardband::testsignal {

/// The sound of a clip, as a tape and its capture might give it. Levels in dB against a sine of full scale (RMS for
/// noise and programme: against full scale).
struct SoundTrackSettings {
    double sample_rate_hz = 48'000;
    int channels = 2;
    std::optional<double> tone_hz;  ///< a sine in all channels
    double tone_db = -18;
    std::optional<double>
        programme_db;  ///< noise that comes and goes like speech, the same in all channels; RMS of its loud moments
    double bandwidth_khz = 12;       ///< of the programme, half amplitude
    int half_taps = 96;              ///< of its low-pass: the more, the steeper
    bool steady_programme = false;   ///< it does not come and go
    std::optional<double> noise_db;  ///< white, each channel its own
    std::optional<double> hum_db;    ///< of the first harmonic; the second 6 dB, the third 10 dB below
    double hum_hz = 50;              ///< of the mains, before the speed error
    std::optional<double> whistle_db;
    double whistle_hz = 15'625;           ///< before the speed error
    double speed_error_percent = 0;       ///< of hum and whistle, played against recorded
    std::vector<SpeedComponent> flutter;  ///< of hum and whistle
    double delay_us = 0;                  ///< of the second channel's programme, later for positive values
    std::vector<Interval> gaps;           ///< all channels exactly 0
    double longer_ms = 0;                 ///< than the pictures
};

/// Makes that sound, any stretch of it in order. The same settings give the same samples.
class SoundTrack {
public:
    SoundTrack(const SoundTrackSettings& settings, std::uint64_t seed);

    /// The samples that follow, one vector per channel. @param count  how many
    void next(std::int64_t count, std::vector<std::vector<float>>& channels);

private:
    double envelope();
    double steady_sound(std::int64_t n) const;
    void add_programme(std::int64_t count, std::vector<std::vector<float>>& channels);

    SoundTrackSettings settings_;
    Random programme_, envelope_, noise_;
    std::vector<std::vector<double>> kernels_;  ///< of the programme's low-pass, one per channel with its delay
    std::vector<double> source_;                ///< white noise that the kernels still need
    std::int64_t at_ = 0, syllable_left_ = 0;
    double syllable_gain_ = 0, gain_ = 0, kernel_gain_ = 1;
};

}  // namespace guardband::testsignal
