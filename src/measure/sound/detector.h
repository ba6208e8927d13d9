#pragma once

#include <span>
#include <vector>

#include "dsp/level_histogram.h"

namespace guardband::measure {

/// How a meter makes one reading of a swinging deflection.
enum class Detector { TwoSigma, QuasiPeak };

/// The quasi-peak rectifier and pointer of the older meters (IEC 60386 before its amendment, DIN 45507): charges
/// steadily at first and then by a time constant, discharges slowly. Unidirectional pulses of 10, 30, 60 and 100 ms
/// once a second must read 21 ± 3, 62 ± 6, 90 ± 6 and 100 ± 4 % of a steady deflection, and the pointer must fall to 36
/// to 44 % between those of 100 ms: figures and tolerances from memory. Its scale reads the peak of a sine of 4 Hz.
class QuasiPeakPointer {
public:
    explicit QuasiPeakPointer(double rate_hz);
    /// @returns where the pointer stands after one more value, uncalibrated: a steady deflection reads itself
    double see(double value);
    /// The factor that makes a sine of 4 Hz read its peak.
    static double scale(double rate_hz);

private:
    double steady_step_, approach_share_, discharge_share_;
    double pointer_ = 0;
};

/// Reads a series of deflections. Two-sigma (IEC 60386 with amendment 1, AES6-2008): the magnitude that is not exceeded
/// for 95.45 % of the time; a sine reads 99.75 % of its peak. Quasi-peak: the pointer's place that is not exceeded for
/// the same share of the time.
class DeflectionMeter {
public:
    /// @param parts  equal stretches of time whose readings tell the scatter, ≥ 1
    DeflectionMeter(Detector detector, double rate_hz, double seconds, int parts);

    void see(std::span<const float> values);
    /// The reading over all that was seen; 0 if nothing was.
    double reading() const;
    /// Standard uncertainty of the reading from the scatter of the parts' readings; 0 for fewer than 3 parts.
    double scatter() const;

private:
    Detector detector_;
    QuasiPeakPointer pointer_;
    double scale_;
    double values_per_part_;
    std::int64_t seen_ = 0;
    std::vector<dsp::LevelHistogram> parts_;
};

}  // namespace guardband::measure
