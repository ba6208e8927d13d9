#include "measure/clip/wave_fit.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dsp/fft.h"
#include "dsp/maximum.h"

namespace guardband::measure {
namespace {

using Complex = std::complex<double>;
constexpr std::size_t series = LightSpectra::series;

// The bracket around a place on the map, which is known to half a bin and an eighth of a band.
constexpr double bands_reach = 0.4;
constexpr double cycles_reach = 0.75;  // of a cycle over the stretch
constexpr double bands_tolerance = 1e-3, cycles_tolerance = 1e-4;

// Below this share of independence the two ends of a wave at half a cycle per frame can't be told apart.
constexpr double least_independence = 0.05;

// A cell takes part when its power exceeds its noise so many times: 2 % of cells do by chance.
constexpr double part_contrast = 4;
constexpr std::size_t parts_of_time = 8, parts_left_out = 2;

constexpr std::size_t scatter_parts = 16;
constexpr double fitted_parameters = 3;  // phase, frequency, amplitude

}  // namespace

WaveFit::WaveFit(const LightSpectra& spectra, const FieldTiming& timing, std::size_t bin, double line_power)
    : spectra_(spectra), timing_(timing), cells_(spectra.cells_at(bin)) {
    double sum = 0;
    for (const auto& cell : cells_) {
        cell_weights_.push_back(1 / (cell.noise + line_power));
        sum += cell_weights_.back();
    }
    for (auto& band : bands_) band.assign(spectra.length(), 0.0F);
    for (std::size_t i = 0; i < cells_.size(); ++i) {
        cell_weights_[i] /= sum;
        band_weights_[cells_[i].series] += cell_weights_[i];
        const auto change = spectra.windowed(cells_[i].index);
        auto& band = bands_[cells_[i].series];
        for (std::size_t n = 0; n < band.size(); ++n) band[n] += static_cast<float>(cell_weights_[i]) * change[n];
    }
    const auto& window = spectra.window();
    for (std::size_t n = 0; n < window.size(); ++n)
        middle_ += static_cast<double>(n) * window[n] / spectra.window_sum();
    for (std::size_t n = 0; n < window.size(); ++n) {
        const double from_middle = static_cast<double>(n) - middle_, w = window[n];
        square_ += w * from_middle * from_middle, square_of_noise_ += w * w * from_middle * from_middle;
    }
}

void WaveFit::tune(double cycles) {
    if (cycles == cycles_) return;
    cycles_ = cycles;
    for (std::size_t s = 0; s < series; ++s) {
        sums_[s] = band_weights_[s] > 0 ? dsp::dft_at(bands_[s], cycles) * turned(-cycles * delay(s)) : 0;
    }
    image_ = dsp::dft_at(spectra_.window(), 2 * cycles);
}

FittedWave WaveFit::fit(double bands) const {
    // Least squares of Re(A e^(iθ)): the sum C of change · e^(−iθ) is (R A + Q A*) / 2, with R the sum of the weights
    // and Q that of e^(−2iθ).
    Complex sum = 0, image = 0;
    for (std::size_t s = 0; s < series; ++s) {
        if (band_weights_[s] == 0) continue;
        const Complex turn = turned(-bands * spectra_.height(s));
        sum += sums_[s] * turn;
        image += band_weights_[s] * turn * turn * turned(-2 * cycles_ * delay(s));
    }
    image *= image_;
    const double r = spectra_.window_sum(), independence = 1 - std::norm(image) / (r * r);
    if (independence < least_independence) return {cycles_, bands, sum / r, std::norm(sum) / r};
    const Complex amplitude = 2.0 * (sum - image / r * std::conj(sum)) / (r * independence);
    return {cycles_, bands, amplitude, 0.5 * (std::conj(sum) * amplitude).real()};
}

FittedWave WaveFit::best_near(double cycles, double bands) {
    const auto best_bands = [&](double at) {
        tune(at);
        return dsp::maximum_place([&](double b) { return fit(b).gain; }, bands - bands_reach, bands + bands_reach,
                                  bands_tolerance);
    };
    const double reach = cycles_reach / static_cast<double>(spectra_.length());
    const double best_cycles = dsp::maximum_place([&](double at) { return fit(best_bands(at)).gain; }, cycles - reach,
                                                  cycles + reach, reach * cycles_tolerance);
    return fit(best_bands(best_cycles));
}

WaveFit::Uncertainty WaveFit::from_noise(double contrast) const {
    const double gain = spectra_.window_sum() * spectra_.window_sum() / spectra_.window_square_sum();
    Uncertainty result;
    result.cycles = std::sqrt(square_of_noise_ / (square_ * square_) * gain / (2 * contrast)) / (2 * std::numbers::pi);
    result.bands =
        std::sqrt(12 / (2 * contrast)) / (2 * std::numbers::pi);  // the same of a line of unit length without window
    result.amplitude_share = 1 / std::sqrt(2 * contrast);
    return result;
}

/// What is left in each frame when the wave has been taken out, seen along the wave: Σ rest · e^(−wave) / its phase.
std::vector<Complex> WaveFit::rest(const FittedWave& wave) const {
    const auto& window = spectra_.window();
    std::vector<Complex> result(window.size());
    const Complex phase = wave.amplitude / std::abs(wave.amplitude);
    std::array<Complex, series> turn;
    for (std::size_t s = 0; s < series; ++s)
        turn[s] = turned(wave.cycles * delay(s) + wave.bands * spectra_.height(s)) * phase;
    for (std::size_t n = 0; n < result.size(); ++n) {
        const Complex now = turned(wave.cycles * static_cast<double>(n));
        for (std::size_t s = 0; s < series; ++s) {
            const Complex along = now * turn[s];
            const double left = bands_[s][n] - band_weights_[s] * window[n] * std::abs(wave.amplitude) * along.real();
            result[n] += left * std::conj(along);
        }
    }
    return result;
}

WaveFit::Uncertainty WaveFit::from_scatter(const FittedWave& wave) const {
    const std::vector<Complex> left = rest(wave);
    double of_frequency = 0, of_amplitude = 0;
    for (std::size_t p = 0; p < scatter_parts; ++p) {
        double turning = 0, along = 0;
        for (std::size_t n = left.size() * p / scatter_parts; n < left.size() * (p + 1) / scatter_parts; ++n) {
            turning += (static_cast<double>(n) - middle_) * left[n].imag(), along += left[n].real();
        }
        of_frequency += turning * turning, of_amplitude += along * along;
    }
    const double freedom = scatter_parts / (static_cast<double>(scatter_parts) - fitted_parameters),
                 half = std::abs(wave.amplitude) / 2;
    Uncertainty result;
    result.cycles = std::sqrt(freedom * of_frequency) / (half * square_) / (2 * std::numbers::pi);
    result.amplitude_share = std::sqrt(freedom * of_amplitude) / (half * spectra_.window_sum());
    return result;
}

WaveFit::Uncertainty WaveFit::uncertainty(const FittedWave& wave, double contrast) const {
    const Uncertainty noise = from_noise(contrast), scatter = from_scatter(wave);
    return {std::max(noise.cycles, scatter.cycles), noise.bands,
            std::max(noise.amplitude_share, scatter.amplitude_share)};
}

double WaveFit::power(const FittedWave& wave) {
    tune(wave.cycles);
    Complex sum = 0;
    for (std::size_t s = 0; s < series; ++s) sum += sums_[s] * turned(-wave.bands * spectra_.height(s));
    return std::norm(sum);
}

std::vector<std::complex<float>> WaveFit::line_shape(const FittedWave& wave) const {
    const std::size_t length = spectra_.transform_length();
    std::vector<std::complex<float>> modulated(length), shape(length);
    for (std::size_t n = 0; n < spectra_.length(); ++n) {
        const Complex value = 0.5 * wave.amplitude * turned(wave.cycles * static_cast<double>(n));
        modulated[n] = std::complex<float>(value * static_cast<double>(spectra_.window()[n]));
    }
    dsp::ComplexFft(length).forward(modulated, shape);
    shape.resize(spectra_.bins(timing_),
                 shape[0]);  // of fields, one bin more: a whole cycle per frame, which is 0 again
    return shape;
}

Complex WaveFit::part(const FittedWave& wave, std::size_t from, std::size_t to) const {
    Complex sum = 0;
    for (std::size_t s = 0; s < series; ++s) {
        if (band_weights_[s] == 0) continue;
        const double delayed = static_cast<double>(from) + delay(s);
        sum += dsp::dft_at(std::span(bands_[s]).subspan(from, to - from), wave.cycles) *
               turned(-wave.cycles * delayed - wave.bands * spectra_.height(s));
    }
    return sum;
}

/// What the wave makes of each cell, and what is left.
void WaveFit::explain_cells(const FittedWave& wave, WaveSoundness& result) const {
    const Complex image = dsp::dft_at(spectra_.window(), 2 * wave.cycles);
    double power = 0, left = 0, power_part = 0, left_part = 0;
    std::size_t taking_part = 0;
    for (std::size_t i = 0; i < cells_.size(); ++i) {
        const auto& cell = cells_[i];
        const Complex value = dsp::dft_at(spectra_.windowed(cell.index), wave.cycles);
        const Complex at_cell =
            wave.amplitude * turned(wave.cycles * delay(cell.series) + wave.bands * spectra_.height(cell.series));
        const Complex model = 0.5 * (at_cell * spectra_.window_sum() + std::conj(at_cell) * image);
        const double total = cell_weights_[i] * (std::norm(value) - cell.noise);
        const double rest = cell_weights_[i] * (std::norm(value - model) - cell.noise);
        power += total, left += rest;
        if (std::norm(value) < part_contrast * cell.noise) continue;
        ++taking_part, power_part += total, left_part += rest;
    }
    result.taking_part = static_cast<double>(taking_part) / static_cast<double>(cells_.size());
    result.explained = power > 0 ? 1 - left / power : 0;
    result.explained_part = power_part > 0 ? 1 - left_part / power_part : 0;
}

double WaveFit::rest_contrast(const FittedWave& wave, double noise) const {
    struct Part {
        Complex sum;
        double noise_share = 0;
    };
    std::array<Part, parts_of_time> parts;
    for (std::size_t p = 0; p < parts_of_time; ++p) {
        const std::size_t from = spectra_.length() * p / parts_of_time,
                          to = spectra_.length() * (p + 1) / parts_of_time;
        parts[p].sum = part(wave, from, to);
        for (std::size_t n = from; n < to; ++n) {
            const double w = spectra_.window()[n];
            parts[p].noise_share += w * w / spectra_.window_square_sum();
        }
    }
    std::ranges::sort(parts, {}, [](const Part& p) { return std::norm(p.sum); });
    Part rest;
    for (std::size_t p = 0; p < parts_of_time - parts_left_out; ++p) {
        rest.sum += parts[p].sum, rest.noise_share += parts[p].noise_share;
    }
    return std::norm(rest.sum) / (noise * rest.noise_share);
}

WaveSoundness WaveFit::soundness(const FittedWave& wave, double noise, const LightChange& change) const {
    WaveSoundness result;
    result.riding = riding_with_picture(spectra_, wave.cycles, wave.bands, change);
    result.swaying = swaying_with_camera(spectra_, wave.cycles, change);
    explain_cells(wave, result);
    result.rest_contrast = rest_contrast(wave, noise);
    return result;
}

double WaveFit::bridging_loss(const FittedWave& wave, const LightChange& change) const {
    // A single frame bridged by the mean of its neighbours keeps cos(2π cycles) of a wave; longer bridges keep next to
    // nothing.
    double lost = 0;
    const auto& bridged = change.bridged;
    for (std::size_t n = 0; n < bridged.size(); ++n) {
        if (bridged[n] == 0) continue;
        const bool single = n > 0 && n + 1 < bridged.size() && bridged[n - 1] == 0 && bridged[n + 1] == 0;
        lost += spectra_.window()[n] * (1 - (single ? std::cos(2 * std::numbers::pi * wave.cycles) : 0));
    }
    return lost / spectra_.window_sum();
}

}  // namespace guardband::measure
