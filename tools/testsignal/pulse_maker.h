#pragma once

#include <cstdint>
#include <vector>

#include "testsignal/tone_maker.h"

namespace guardband::testsignal {

/// How the pulses come out of the machine.
enum class PulseKind {
    Bumps,   ///< of alternating sign, as a control head makes of a recorded square wave
    Square,  ///< the square wave itself
    Logic,   ///< the same between 0 and full scale, without slope or noise of its own
};

/// Pulses at one rate.
struct PulseRun {
    double rate_hz = 25;
    std::int64_t count = 100;
};

/// Control-track or tachometer pulses. Pulses count from 0 over all runs.
struct PulseRecipe {
    PulseKind kind = PulseKind::Bumps;
    double sample_rate_hz = 48'000;
    std::vector<PulseRun> runs{PulseRun{}};
    double lead_s = 0.5;  ///< before the first pulse, and after the last
    double amplitude = 0.5;
    double duty = 0.5;     ///< share of the period from a rising edge to the falling one
    double bump_ms = 1.0;  ///< full width of a bump at half of its height
    bool inverted = false;
    double jitter_us = 0;  ///< RMS of each pulse's displacement, Gaussian
    std::vector<SpeedComponent> components;
    double noise_db = -200;             ///< RMS against the amplitude; below −150: none
    std::vector<std::int64_t> missing;  ///< numbers of pulses that are left out
    std::vector<std::int64_t>
        extra;  ///< a pulse too many after each of these, midway between its fall and the next rise
    std::uint64_t seed = 1;
};

/// What was made.
struct PulseTruth {
    std::vector<float> samples;
    std::vector<double> times_s;  ///< of the rising edges or positive bumps that are there, extra ones too
};

PulseTruth make_pulses(const PulseRecipe& recipe);

}  // namespace guardband::testsignal
