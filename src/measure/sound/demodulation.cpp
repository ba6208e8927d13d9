#include "measure/sound/demodulation.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

#include "dsp/low_pass.h"

namespace guardband::measure {
namespace {

constexpr double pass_hz = 450;  ///< flutter of 200 Hz twice over, and the swing of a wow of some per cent
constexpr double stop_hz = 900;  ///< leaves hum and harmonics out for tones from 900 Hz up
constexpr double attenuation_db = 80;
constexpr double least_rate_hz = 2000;
constexpr int exact_every = 4096;  ///< samples; rounding of the turning phase stays below 1e-12
constexpr double turn = 2 * std::numbers::pi;

/// What the filter's group delay shifts the series by is taken off its time.
double first_value_s(double start_s, std::size_t taps, double sample_rate_hz) {
    return start_s + static_cast<double>(taps - 1) / 2 / sample_rate_hz;
}

/// The mean over a step against the value at its middle: y − Δ²y/24, to the fourth order of the frequency.
void undo_mean_over_step(std::vector<float>& series) {
    if (series.size() < 3) return;
    float before = series[0];
    for (std::size_t i = 1; i + 1 < series.size(); ++i) {
        const float here = series[i];
        series[i] = here - (before - 2 * here + series[i + 1]) / 24;
        before = here;
    }
}

}  // namespace

Demodulator::Demodulator(double sample_rate_hz, double carrier_hz, double start_s)
    : sample_rate_hz_(sample_rate_hz),
      decimation_(std::max<std::size_t>(1, static_cast<std::size_t>(sample_rate_hz / least_rate_hz))),
      taps_(dsp::low_pass(pass_hz / sample_rate_hz, stop_hz / sample_rate_hz, attenuation_db)) {
    series_.carrier_hz = carrier_hz;
    series_.rate_hz = sample_rate_hz / static_cast<double>(decimation_);
    // A step's frequency belongs to its middle, half a step before its second value.
    series_.start_s = first_value_s(start_s, taps_.size(), sample_rate_hz) + 0.5 / series_.rate_hz;
    turn_ = std::polar(1.0, -turn * carrier_hz / sample_rate_hz);
}

void Demodulator::see(std::span<const float> samples) {
    mix(samples);
    filter();
}

void Demodulator::mix(std::span<const float> samples) {
    const double cycles_per_sample = series_.carrier_hz / sample_rate_hz_;
    for (const float sample : samples) {
        if (since_exact_++ == exact_every) {
            since_exact_ = 1;
            phase_ = std::polar(1.0, -turn * std::fmod(cycles_per_sample * static_cast<double>(mixed_), 1.0));
        }
        real_.push_back(static_cast<float>(sample * phase_.real()));
        imaginary_.push_back(static_cast<float>(sample * phase_.imag()));
        phase_ *= turn_;
        ++mixed_;
    }
}

void Demodulator::filter() {
    const std::size_t length = taps_.size();
    for (; next_ + length <= real_.size(); next_ += decimation_) {
        const auto at = static_cast<std::ptrdiff_t>(next_);
        const std::complex<double> value(std::inner_product(taps_.begin(), taps_.end(), real_.begin() + at, 0.0F),
                                         std::inner_product(taps_.begin(), taps_.end(), imaginary_.begin() + at, 0.0F));
        if (has_last_) {
            const double step = std::arg(value * std::conj(last_)) / turn * series_.rate_hz;
            series_.deviation.push_back(static_cast<float>(step / series_.carrier_hz));
            series_.level.push_back(static_cast<float>(2 * std::abs(value)));
        }
        last_ = value;
        has_last_ = true;
    }
    const std::size_t done = std::min(next_, real_.size());
    real_.erase(real_.begin(), real_.begin() + static_cast<std::ptrdiff_t>(done));
    imaginary_.erase(imaginary_.begin(), imaginary_.begin() + static_cast<std::ptrdiff_t>(done));
    next_ -= done;
}

SpeedSeries Demodulator::finish() {
    undo_mean_over_step(series_.deviation);
    return std::move(series_);
}

}  // namespace guardband::measure
