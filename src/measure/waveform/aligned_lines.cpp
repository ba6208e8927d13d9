#include "measure/waveform/aligned_lines.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dsp/window.h"
#include "measure/waveform/phasor.h"
#include "rows/filters.h"

namespace guardband::measure {
namespace {

constexpr int first_line = 5;    ///< after the start of field sync: past the equalising pulses
constexpr double tail_us = 1.2;  ///< of the line that is left out: the next front porch
constexpr double noise_from_us = 11.5, noise_to_us = 60;
constexpr int sinc_taps = 24, taps_before = sinc_taps / 2 - 1;  ///< those before the place that is read
constexpr double sinc_beta = 7;

/// Taps that read a row a fraction of a sample later than its samples lie.
std::array<float, sinc_taps> fractional_delay(double fraction) {
    std::array<float, sinc_taps> taps{};
    double sum = 0;
    std::array<double, sinc_taps> exact{};
    for (int k = 0; k < sinc_taps; ++k) {
        const double x = k - taps_before - fraction, place = x / (sinc_taps / 2.0);
        const double window =
            std::abs(place) >= 1 ? 0 : std::cyl_bessel_i(0.0, sinc_beta * std::sqrt(1 - place * place));
        exact[static_cast<std::size_t>(k)] =
            window * (x == 0 ? 1 : std::sin(std::numbers::pi * x) / (std::numbers::pi * x));
        sum += exact[static_cast<std::size_t>(k)];
    }
    for (std::size_t k = 0; k < taps.size(); ++k) taps[k] = static_cast<float>(exact[k] / sum);
    return taps;
}

std::vector<double> gaussian_taps(double spread) {
    const int radius = static_cast<int>(std::ceil(4 * spread));
    std::vector<double> taps;
    double sum = 0;
    for (int k = -radius; k <= radius; ++k)
        taps.push_back(std::exp(-0.5 * (k / spread) * (k / spread))), sum += taps.back();
    for (double& tap : taps) tap /= sum;
    return taps;
}

/// Filtered by symmetrical taps; what lies beyond the ends counts as the end.
std::vector<double> filtered(const std::vector<double>& row, const std::vector<double>& taps) {
    const auto radius = static_cast<std::ptrdiff_t>(taps.size() / 2), count = static_cast<std::ptrdiff_t>(row.size());
    std::vector<double> out(row.size());
    for (std::ptrdiff_t i = 0; i < count; ++i) {
        double sum = 0;
        for (std::ptrdiff_t k = -radius; k <= radius; ++k)
            sum += taps[static_cast<std::size_t>(k + radius)] *
                   row[static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(i + k, 0, count - 1))];
        out[static_cast<std::size_t>(i)] = sum;
    }
    return out;
}

std::size_t fft_length(double samples_per_us, double line_us) {
    const double us = std::min(noise_to_us, line_us - 3) - noise_from_us;
    auto length = static_cast<std::size_t>(us * samples_per_us);
    length -= length % 2;
    while (length > 64 && dsp::fast_length(length) != length) length -= 2;
    return length;
}

}  // namespace

AlignedLines::AlignedLines(const FieldLayout& layout, double rate_hz, double line_samples, double subcarrier_hz)
    : layout_(layout),
      samples_per_us_(rate_hz * 1e-6),
      cycles_per_sample_(subcarrier_hz / rate_hz),
      length_(static_cast<std::size_t>(line_samples - tail_us * samples_per_us_)),
      fft_(fft_length(samples_per_us_, line_samples / samples_per_us_)),
      window_(dsp::hann(fft_.length())),
      gaussian_(gaussian_taps(smooth_us * samples_per_us_)),
      row_(length_),
      piece_(fft_.length()),
      real_(length_),
      imaginary_(length_),
      spectrum_(fft_.bins()) {
    for (const float w : window_) white_power_ += double{w} * w;
    for (const double tap : gaussian_) gaussian_taps_.push_back(static_cast<float>(tap));
    while (gaussian_taps_.size() % rows::filter_tap_group != 0) gaussian_taps_.push_back(0);
    for (std::size_t i = 0; i < length_; ++i) {
        const std::complex<double> turn = 2.0 * std::conj(turn_at(cycles_per_sample_, static_cast<double>(i)));
        carrier_.emplace_back(static_cast<float>(turn.real()), static_cast<float>(turn.imag()));
    }
    turned_real_.resize(length_ + gaussian_taps_.size());
    turned_imaginary_.resize(length_ + gaussian_taps_.size());
}

/// The line as `row_`, in whole samples from its leading edge, less the level of blanking.
bool AlignedLines::align(const VideoLine& line, const SampleWindow& window) {
    const double begin = line.sync.lead - lead_us * samples_per_us_, whole = std::floor(begin);
    const auto first = static_cast<std::int64_t>(whole) - taps_before;
    const auto count = static_cast<std::int64_t>(length_) + sinc_taps;
    if (!window.holds(first, first + count)) return false;
    const auto taps = fractional_delay(begin - whole);
    rows::fast_filter()(window.at(first, count).data(), taps.data(), sinc_taps, 1, static_cast<int>(length_),
                        row_.data());
    for (float& value : row_) value -= line.sync.back;
    return true;
}

void AlignedLines::see_line(const VideoLine& line, const SampleWindow& window) {
    if (line.kind != PulseKind::Line || !line.field || line.in_field < first_line ||
        line.in_field >= layout_.blanking_end)
        return;
    if (!align(line, window)) return;
    AveragedLine& average = lines_[2 * line.in_field + (line.field->half_line ? 1 : 0)];
    if (average.count == 0) {
        average.half_line = line.field->half_line;
        average.in_field = line.in_field;
        average.luma.assign(length_, 0);
        average.chroma.assign(length_, 0);
        average.power.assign(fft_.bins(), 0);
    }
    ++average.count;
    for (std::size_t i = 0; i < length_; ++i) average.luma[i] += row_[i];
    if (cycles_per_sample_ > 0) add_chroma(average);
    add_power(average);
}

void AlignedLines::add_chroma(AveragedLine& average) {
    const std::size_t radius = gaussian_.size() / 2;  // what lies beyond the line's ends counts as nothing
    for (std::size_t i = 0; i < length_; ++i) {
        turned_real_[i + radius] = row_[i] * carrier_[i].real();
        turned_imaginary_[i + radius] = row_[i] * carrier_[i].imag();
    }
    const auto taps = static_cast<int>(gaussian_taps_.size()), count = static_cast<int>(length_);
    rows::fast_filter()(turned_real_.data(), gaussian_taps_.data(), taps, 1, count, real_.data());
    rows::fast_filter()(turned_imaginary_.data(), gaussian_taps_.data(), taps, 1, count, imaginary_.data());
    // The burst's phase may swing against the rest: only what comes after it counts.
    double mean_real = 0, mean_imaginary = 0;
    for (auto i = static_cast<std::size_t>(place(noise_from_us)); i < length_; ++i) {
        const double height = std::sqrt(double{real_[i]} * real_[i] + double{imaginary_[i]} * imaginary_[i]);
        mean_real += real_[i] * height;
        mean_imaginary += imaginary_[i] * height;
    }
    const double height = std::hypot(mean_real, mean_imaginary);
    if (height == 0) return;
    const double c = mean_real / height, s = mean_imaginary / height;
    for (std::size_t i = 0; i < length_; ++i)
        average.chroma[i] += std::complex<double>(real_[i] * c + imaginary_[i] * s, imaginary_[i] * c - real_[i] * s);
}

void AlignedLines::add_power(AveragedLine& average) {
    const auto begin = static_cast<std::size_t>(place(noise_from_us));
    double mean = 0;
    for (std::size_t i = 0; i < piece_.size(); ++i) mean += row_[begin + i] / static_cast<double>(piece_.size());
    for (std::size_t i = 0; i < piece_.size(); ++i)
        piece_[i] = window_[i] * (row_[begin + i] - static_cast<float>(mean));
    fft_.forward(piece_, spectrum_);
    for (std::size_t bin = 0; bin < spectrum_.size(); ++bin) average.power[bin] += std::norm(spectrum_[bin]);
}

double AlignedLines::steadiness(const AveragedLine& line, double hz, double beside_hz, double noise_variance) const {
    const auto begin = static_cast<std::size_t>(place(noise_from_us));
    const auto count = static_cast<double>(line.count);
    std::vector<float> piece(fft_.length());
    std::vector<std::complex<float>> spectrum(fft_.bins());
    double mean = 0;
    for (std::size_t i = 0; i < piece.size(); ++i) mean += line.level(begin + i) / static_cast<double>(piece.size());
    for (std::size_t i = 0; i < piece.size(); ++i)
        piece[i] = window_[i] * static_cast<float>(line.level(begin + i) - mean);
    fft_.forward(piece, spectrum);
    const auto first = static_cast<std::size_t>(std::max(1.0, std::ceil((hz - beside_hz) / bin_hz())));
    const std::size_t last = std::min(spectrum.size() - 1, static_cast<std::size_t>((hz + beside_hz) / bin_hz()));
    double steady = 0, all = 0;
    const double noise = noise_variance * white_power_;
    for (std::size_t bin = first; bin <= last; ++bin) {
        steady += double{std::norm(spectrum[bin])} - noise / count;
        all += line.power[bin] / count - noise;
    }
    return all > 0 ? std::clamp(steady / all, 0.0, 1.0) : 0;
}

double AlignedLines::interpolation_response(double cycles_per_sample) {
    constexpr int fractions = 32;
    double sum = 0;
    for (int f = 0; f < fractions; ++f) {
        const double fraction = (f + 0.5) / fractions;
        const auto taps = fractional_delay(fraction);
        for (int k = 0; k < sinc_taps; ++k)
            sum += double{taps[static_cast<std::size_t>(k)]} *
                   std::cos(2 * std::numbers::pi * cycles_per_sample * (k - taps_before - fraction)) / fractions;
    }
    return sum;
}

std::vector<double> AlignedLines::smooth(const AveragedLine& line) const {
    std::vector<double> mean = filtered(line.luma, gaussian_);
    for (double& value : mean) value /= static_cast<double>(line.count);
    return mean;
}

}  // namespace guardband::measure
