#pragma once

#include <cstdint>
#include <functional>
#include <span>
#include <vector>

namespace guardband::testsignal {

/// One steady component of a transport's speed: depth · sin(2π hz t + phase).
struct SpeedComponent {
    double hz = 1;
    double depth_percent = 0.1;  ///< peak value
    double phase_turns = 0;
};

/// A stretch of time in which something happens.
struct Interval {
    double start_s = 0, length_s = 0;
};

/// A test tone as a machine plays it. The phase is worked out in closed form, so that the truth is exact.
struct ToneRecipe {
    double tone_hz = 3150;
    double sample_rate_hz = 48'000;  ///< as the header says
    double clock_error_ppm = 0;      ///< the clock samples this much faster than its header says
    double duration_s = 10;
    double amplitude = 0.5;          ///< of full scale
    double speed_error_percent = 0;  ///< constant, at the middle of the recording
    double drift_percent = 0;        ///< change of speed from start to end, straight
    std::vector<SpeedComponent> components;
    double noise_db = -200;  ///< white and Gaussian, RMS against that of the tone; below −150: none
    double hum_hz = 50;
    double hum_db = -200;            ///< against the tone, with its third harmonic 10 dB below it
    std::vector<Interval> dropouts;  ///< the tone is away, noise and hum stay
    std::uint64_t seed = 1;
};

/// Makes a tone, a block at a time. @param take  gets consecutive samples
void make_tone(const ToneRecipe& recipe, const std::function<void(std::span<const float>)>& take);

/// All of it at once, for tests.
std::vector<float> make_tone(const ToneRecipe& recipe);

}  // namespace guardband::testsignal
