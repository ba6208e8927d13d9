#include "measure/clip/light_spectra.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dsp/fft.h"
#include "dsp/noise_level.h"
#include "dsp/robust.h"
#include "dsp/window.h"

namespace guardband::measure {
namespace {

using Complex = std::complex<float>;
constexpr std::size_t cell_count = BrightnessGrid::cells, columns = BrightnessGrid::columns;

// Two bins per cycle over the stretch: a peak between bins loses at most 8 % of its power under Hann's window.
constexpr std::size_t padding = 2;

// No cell counts as quieter than this share of the median cell's noise power, so that a still caption does not outweigh
// the picture.
constexpr float quietest_power_share = 0.25F;
// Power of a change by 1e-6 per frame: less than rounding to codes leaves even in a picture without noise.
constexpr double least_change_power = 1e-12;

Complex product(Complex a, Complex b) {  // operator* cares for infinities and is slow
    return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}

}  // namespace

std::complex<double> turned(double turns) { return std::polar(1.0, 2 * std::numbers::pi * turns); }

LightSpectra::LightSpectra(const LightChange& change, const BrightnessGrid& grid)
    : change_(change),
      transform_length_(dsp::fast_length(std::max<std::size_t>(padding * change.length, 16))),
      bins_(transform_length_ / 2 + 1),
      window_(dsp::hann(change.length)) {
    for (std::size_t n = 0; n < window_.size(); ++n) {
        window_[n] *= change.weight[n];
        window_sum_ += window_[n], window_square_sum_ += static_cast<double>(window_[n]) * window_[n];
    }
    if (std::ranges::none_of(change.lit, [](bool lit) { return lit; })) window_sum_ = 0;
    for (std::size_t s = 0; s < series; ++s) {
        heights_[s] = grid.height_of(static_cast<int>(parity(s)), static_cast<int>(s % BrightnessGrid::bands));
    }
    if (is_empty()) return;
    find_noise();
    weigh();
    add_up();
}

std::vector<float> LightSpectra::windowed(std::size_t cell) const {
    const auto change = change_.cell(cell);
    std::vector<float> result(window_);
    for (std::size_t n = 0; n < result.size(); ++n) result[n] *= change[n];
    return result;
}

void LightSpectra::find_noise() {
    const dsp::RealFft fft(transform_length_);
    std::vector<float> power(bins_);
    std::vector<Complex> spectrum(bins_);
    const auto least = static_cast<float>(least_change_power * window_square_sum_);
    noise_.resize(cell_count);
    for (std::size_t c = 0; c < cell_count; ++c) {
        if (!change_.lit[c]) continue;
        std::vector<float> padded = windowed(c);
        padded.resize(transform_length_, 0.0F);
        fft.forward(padded, spectrum);
        for (std::size_t k = 0; k < bins_; ++k) power[k] = std::norm(spectrum[k]) + least;
        noise_[c] = dsp::noise_level(dsp::logarithms(power), padding);
    }
}

/// Weights of least squares: one over the noise, adding up to 1 at each bin.
void LightSpectra::weigh() {
    weights_.resize(cell_count);
    for (std::size_t c = 0; c < cell_count; ++c) weights_[c].assign(bins_, 0.0F);
    std::vector<float> noise;
    for (std::size_t k = 0; k < bins_; ++k) {
        noise.clear();
        for (const auto& of_cell : noise_) {
            if (!of_cell.empty()) noise.push_back(of_cell[k]);
        }
        const auto floor = quietest_power_share * static_cast<float>(dsp::quantile_in_place(std::span(noise), 0.5));
        float sum = 0;
        for (std::size_t c = 0; c < cell_count; ++c) {
            if (change_.lit[c]) sum += weights_[c][k] = 1 / std::max(noise_[c][k], floor);
        }
        for (auto& weight : weights_) weight[k] /= sum;
    }
}

void LightSpectra::add_up() {
    const dsp::RealFft fft(transform_length_);
    std::vector<Complex> spectrum(bins_);
    cell_power_.assign(bins_, 0.0F);
    for (std::size_t s = 0; s < series; ++s) {
        spectra_[s].assign(bins_, Complex{});
        for (std::size_t c = s * columns; c < (s + 1) * columns; ++c) {
            if (!change_.lit[c]) continue;
            std::vector<float> padded = windowed(c);
            padded.resize(transform_length_, 0.0F);
            fft.forward(padded, spectrum);
            for (std::size_t k = 0; k < bins_; ++k) {
                spectra_[s][k] += weights_[c][k] * spectrum[k];
                cell_power_[k] += weights_[c][k] * std::norm(spectrum[k]);
            }
        }
    }
}

std::vector<Complex> LightSpectra::sums(double bands, const FieldTiming& timing) const {
    const std::size_t count = bins(timing);
    std::array<std::vector<Complex>, 2> sums{std::vector<Complex>(count), std::vector<Complex>(count)};
    for (std::size_t s = 0; s < series; ++s) {
        const Complex turn(turned(-bands * heights_[s]));
        std::vector<Complex>& sum = sums[parity(s)];
        for (std::size_t k = 0; k < bins_; ++k) sum[k] += product(spectra_[s][k], turn);
        for (std::size_t k = bins_; k < count; ++k) {  // from half a cycle per frame up: the conjugate of what is below
            sum[k] += product(std::conj(spectra_[s][transform_length_ - k]), turn);
        }
    }
    for (std::size_t k = 0; k < count; ++k) {
        sums[0][k] = product(sums[0][k], Complex(turned(-cycles(k) * timing.delay[0]))) +
                     product(sums[1][k], Complex(turned(-cycles(k) * timing.delay[1])));
    }
    return sums[0];
}

std::vector<float> LightSpectra::power(double bands, const FieldTiming& timing) const {
    const auto sum = sums(bands, timing);
    std::vector<float> result(sum.size());
    for (std::size_t k = 0; k < result.size(); ++k) result[k] = std::norm(sum[k]);
    return result;
}

std::vector<float> LightSpectra::power_without(double bands, const FieldTiming& timing,
                                               const std::vector<Complex>& line) const {
    const auto sum = sums(bands, timing);
    std::vector<float> result(sum.size());
    for (std::size_t k = 0; k < result.size(); ++k) result[k] = std::norm(sum[k] - line[k]);
    return result;
}

std::vector<LightSpectra::Cell> LightSpectra::cells_at(std::size_t bin) const {
    std::vector<Cell> result;
    for (std::size_t c = 0; c < cell_count; ++c) {
        if (change_.lit[c]) result.push_back({c, c / columns, noise_[c][folded(bin)]});
    }
    return result;
}

}  // namespace guardband::measure
