#pragma once

#include <cstdint>
#include <span>
#include <vector>

namespace guardband::measure {

/// A stretch of pulses at one rate.
struct PulseStretch {
    double start_s = 0, end_s = 0;  ///< of its first and last pulse
    std::int64_t pulses = 0;        ///< that belong to it, extra ones not counted
    std::int64_t missing = 0, extra = 0;
    std::vector<double> missing_s, extra_s;  ///< when; the first hundred of each
    double rate_hz = 0, rate_uncertainty_hz = 0;
    double jitter_s = 0, jitter_uncertainty_s = 0;  ///< RMS of the displacement, slow wander taken out
    std::vector<float> speed;  ///< relative, one value a period: regular period over this one, less 1
};

/// How pulses follow each other.
struct PulseTrain {
    std::vector<PulseStretch> stretches;  ///< in the order of time
    double regular_share = 0;  ///< of the intervals within a fifth of those around them: low in noise and music
};

/// Sorts pulses into stretches of one rate, where the median over fifteen intervals jumps by more than an eighth or
/// pulses stay away for more than 2 s and twenty periods; then follows each: a pulse belongs where the period, which
/// may wander, puts it to within a quarter; what lies between is extra, places left empty are missing.
///
/// Rate: least squares of the times over their numbers. Bias: none. Scatter: that of the displacements, counted as
/// independent as their means over tenths of the stretch show them to be. Missing and extra pulses are exact while less
/// than a third of the pulses in a second are at fault and the jitter is below a tenth of the period. Displacements are
/// taken from a parabola over at most ten seconds each: a drift of speed and wander slower than that are no jitter.
/// @param times_s  rising
/// @param step_s   how finely they were timed: 0 where edges have slopes to interpolate on, a sample where they may
/// not; counted in the uncertainties
PulseTrain follow_pulses(std::span<const double> times_s, double step_s = 0);

}  // namespace guardband::measure
