#include "measure/sound/detector.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace guardband::measure {
namespace {

constexpr double two_sigma_share = 0.9545;  // of a normal distribution lies within two standard deviations
// Worked out by hand for the four pulses, each of which finds the pointer where the last one left it: 13.3/s brings it
// from 8 to 21 % in 10 ms and from 22 to 62 % in 30 ms; the approach makes 91 % of 60 ms and 98 % of 100 ms.
constexpr double steady_charge_per_s = 13.3;  // of the deflection
constexpr double approach_s = 0.025;
constexpr double discharge_s = 0.98;
constexpr double calibration_hz = 4, calibration_s = 4;

}  // namespace

QuasiPeakPointer::QuasiPeakPointer(double rate_hz)
    : steady_step_(steady_charge_per_s / rate_hz),
      approach_share_(1 - std::exp(-1 / (rate_hz * approach_s))),
      discharge_share_(1 - std::exp(-1 / (rate_hz * discharge_s))) {}

double QuasiPeakPointer::see(double value) {
    const double level = std::abs(value);
    if (level > pointer_)
        pointer_ += std::min(steady_step_ * level, approach_share_ * (level - pointer_));
    else
        pointer_ -= discharge_share_ * pointer_;
    return pointer_;
}

double QuasiPeakPointer::scale(double rate_hz) {
    QuasiPeakPointer pointer(rate_hz);
    double highest = 0;
    for (double n = 0; n < calibration_s * rate_hz; ++n)
        highest = std::max(highest, pointer.see(std::sin(2 * std::numbers::pi * calibration_hz * n / rate_hz)));
    return 1 / highest;
}

DeflectionMeter::DeflectionMeter(Detector detector, double rate_hz, double seconds, int parts)
    : detector_(detector),
      pointer_(rate_hz),
      scale_(detector == Detector::QuasiPeak ? QuasiPeakPointer::scale(rate_hz) : 1),
      values_per_part_(std::max(1.0, rate_hz * seconds / parts)),
      parts_(static_cast<std::size_t>(parts)) {}

void DeflectionMeter::see(std::span<const float> values) {
    for (const float value : values) {
        const auto part = static_cast<std::size_t>(static_cast<double>(seen_++) / values_per_part_);
        const double level = detector_ == Detector::QuasiPeak ? scale_ * pointer_.see(value) : std::abs(value);
        parts_[std::min(part, parts_.size() - 1)].add(level);
    }
}

double DeflectionMeter::reading() const {
    dsp::LevelHistogram all;
    for (const auto& part : parts_) all.add(part);
    return all.count() == 0 ? 0 : all.quantile(two_sigma_share);
}

double DeflectionMeter::scatter() const {
    std::vector<double> readings;
    for (const auto& part : parts_)
        if (part.count() > 0) readings.push_back(part.quantile(two_sigma_share));
    if (readings.size() < 3) return 0;
    double mean = 0, squares = 0;
    const auto count = static_cast<double>(readings.size());
    for (const double r : readings) mean += r / count;
    for (const double r : readings) squares += (r - mean) * (r - mean);
    return std::sqrt(squares / (count - 1) / count);
}

}  // namespace guardband::measure
