#include "measure/clip_sound/steady_band.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dsp/low_pass.h"
#include "dsp/window.h"

namespace guardband::measure {
namespace {

constexpr double turn = 2 * std::numbers::pi;
constexpr double oversampling = 1.5, attenuation_db = 80;
/// Power below this counts as this: about the rounding of 24 bits.
constexpr double least_power = 1e-20;
constexpr std::int64_t samples_between_exact_phases = 65536;

std::size_t decimation_of(double rate_hz, double width_hz) {
    return static_cast<std::size_t>(std::max(1.0, std::floor(rate_hz / (oversampling * width_hz))));
}

std::vector<float> taps_of(double rate_hz, double width_hz, std::size_t decimation) {
    const double pass = width_hz / 2 / rate_hz, stop = 1.0 / static_cast<double>(decimation) - pass;
    return dsp::low_pass(pass, std::min(stop, 0.5), attenuation_db);
}

std::size_t piece_length(double rate_hz, double piece_s) {
    return dsp::fast_length(static_cast<std::size_t>(std::ceil(rate_hz * piece_s / 2)) * 2);
}

}  // namespace

SteadyBand::SteadyBand(double sample_rate_hz, double low_hz, double high_hz, double piece_s)
    : low_hz_(low_hz),
      high_hz_(high_hz),
      centre_hz_((low_hz + high_hz) / 2),
      decimation_(decimation_of(sample_rate_hz, high_hz - low_hz)),
      taps_(taps_of(sample_rate_hz, high_hz - low_hz, decimation_)),
      turn_(std::polar(1.0, -turn * centre_hz_ / sample_rate_hz)),
      fft_(piece_length(sample_rate_hz / static_cast<double>(decimation_), piece_s)) {
    rate_hz_ = sample_rate_hz / static_cast<double>(decimation_);
    const std::size_t length = fft_.length();
    window_ = dsp::hann(length);
    spectrum_.resize(length), before_.resize(length);
    log_sum_.resize(length), power_sum_.resize(length), advance_.resize(length);
}

void SteadyBand::hear(std::span<const float> samples) {
    for (const float sample : samples) {
        waiting_.emplace_back(static_cast<float>(sample * phase_.real()), static_cast<float>(sample * phase_.imag()));
        phase_ *= turn_;
        if (++mixed_ % samples_between_exact_phases == 0) phase_ /= std::abs(phase_);
    }
    for (; next_ + taps_.size() <= waiting_.size(); next_ += decimation_) {
        std::complex<float> sum;
        for (std::size_t k = 0; k < taps_.size(); ++k) sum += taps_[k] * waiting_[next_ + k];
        piece_.push_back(sum);
        if (piece_.size() == fft_.length()) take_piece();
    }
    const std::size_t done = std::min(next_, waiting_.size());
    waiting_.erase(waiting_.begin(), waiting_.begin() + static_cast<std::ptrdiff_t>(done));
    next_ -= done;
}

void SteadyBand::take_piece() {
    const std::size_t length = fft_.length();
    std::vector<std::complex<float>> windowed(length);
    for (std::size_t n = 0; n < length; ++n) windowed[n] = window_[n] * piece_[n];
    std::swap(before_, spectrum_);
    fft_.forward(windowed, spectrum_);
    for (std::size_t k = 0; k < length; ++k) {
        const double power = std::norm(spectrum_[k]);
        log_sum_[k] += std::log(std::max(power, least_power));
        power_sum_[k] += power;
        if (pieces_ > 0)
            advance_[k] += std::complex<double>(spectrum_[k]) * std::conj(std::complex<double>(before_[k]));
    }
    if (pieces_++ > 0) ++pairs_;
    piece_.erase(piece_.begin(), piece_.begin() + static_cast<std::ptrdiff_t>(length / 2));
}

BandSpectrum SteadyBand::finish() const {
    BandSpectrum out;
    out.pieces = pieces_;
    if (pieces_ < 2) return out;
    const std::size_t length = fft_.length();
    out.step_hz = rate_hz_ / static_cast<double>(length);
    const std::size_t hop = length / 2;
    out.hop_s = static_cast<double>(hop) / rate_hz_;
    double squares = 0, sum = 0;
    for (const float w : window_) squares += w * w, sum += w;
    out.line_gain = static_cast<double>(length) * squares / 4;  // a real sine is half of it at each side
    out.noise_bins = static_cast<double>(length) * squares / (sum * sum);
    // From the lowest frequency up: the transform has those below the centre in its second half.
    const auto half = static_cast<std::ptrdiff_t>(std::floor((high_hz_ - low_hz_) / 2 / out.step_hz));
    out.first_hz = centre_hz_ - static_cast<double>(half) * out.step_hz;
    for (std::ptrdiff_t bin = -half; bin <= half; ++bin) {
        const auto k = static_cast<std::size_t>(bin < 0 ? bin + static_cast<std::ptrdiff_t>(length) : bin);
        out.log_power.push_back(static_cast<float>(log_sum_[k] / pieces_));
        const double mean = power_sum_[k] * pairs_ / pieces_;
        out.coherence.push_back(mean > 0 ? static_cast<float>(std::min(1.0, std::abs(advance_[k]) / mean)) : 0.0F);
        out.advance_turns.push_back(std::arg(advance_[k]) / turn);
    }
    return out;
}

}  // namespace guardband::measure
