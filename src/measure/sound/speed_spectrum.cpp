#include "measure/sound/speed_spectrum.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "dsp/fft.h"
#include "dsp/noise_level.h"
#include "dsp/robust.h"
#include "dsp/window.h"

namespace guardband::measure {
namespace {

constexpr double longest_stretch_s = 65;
constexpr std::size_t fewest_bins = 16;
/// Of 13 000 bins of exponentially distributed noise one stands this far above its mean in one spectrum of 250.
constexpr double least_above_noise = 15;
constexpr std::size_t first_bin = 3;  ///< below, the window mixes a line with what is left of the mean
constexpr std::size_t most_lines = 20;
constexpr double least_of_strongest = 0.01;  ///< weaker lines are of no consequence, and often of the sampling
constexpr double noise_reach = 1.5;          ///< how far above the range its neighbourhood is looked at
constexpr double main_lobe_bins = 2.5;
/// Lines that end up to this share below what a stronger one's window may leave there are the window's.
constexpr double leakage_margin = 2;

/// The height of Hann's window in the spectrum, `bins` off its middle.
double hann_lobe(double bins) {
    if (std::abs(bins) < 1e-6) return 1;
    if (std::abs(std::abs(bins) - 1) < 1e-6) return 0.5;
    return std::sin(std::numbers::pi * bins) / (std::numbers::pi * bins * (1 - bins * bins));
}

/// The most that Hann's window leaves of a line `bins` away, against the line.
double leakage(double bins) {
    if (bins < main_lobe_bins) return 1;
    return leakage_margin / (std::numbers::pi * bins * (bins * bins - 1));
}

struct Spectrum {
    double bin_hz = 0;
    std::vector<double> power;     ///< mean over the stretches; a sine of peak value 1 at a bin's middle has 1
    std::vector<float> log_power;  ///< mean of the logarithms
};

std::size_t fast_length_up_to(std::size_t most) {
    std::size_t length = most - most % 2;
    while (dsp::fast_length(length) != length) length -= 2;
    return length;
}

Spectrum averaged_spectrum(std::span<const float> series, double rate_hz) {
    const auto longest = static_cast<std::size_t>(longest_stretch_s * rate_hz);
    const std::size_t stretches = (series.size() + longest - 1) / longest;
    const std::size_t length = fast_length_up_to(series.size() / stretches);
    const dsp::RealFft fft(length);
    const std::vector<float> window = dsp::hann(length);
    const double scale = 2 / (dsp::coherent_gain(window) * static_cast<double>(length));
    Spectrum spectrum{rate_hz / static_cast<double>(length), std::vector<double>(fft.bins()), {}};
    spectrum.log_power.resize(fft.bins());
    std::vector<float> piece(length);
    std::vector<std::complex<float>> bins(fft.bins());
    for (std::size_t s = 0; s < stretches; ++s) {
        for (std::size_t i = 0; i < length; ++i) piece[i] = series[s * length + i] * window[i];
        fft.forward(piece, bins);
        for (std::size_t k = 0; k < bins.size(); ++k) {
            const double power = scale * scale * std::norm(bins[k]);
            spectrum.power[k] += power / static_cast<double>(stretches);
            spectrum.log_power[k] +=
                static_cast<float>(std::log(std::max(power, 1e-30)) / static_cast<double>(stretches));
        }
    }
    return spectrum;
}

/// Place and height of a line from its highest bin and the higher of that one's neighbours.
SpeedLine line_at(const Spectrum& spectrum, std::size_t bin, double noise) {
    const double middle = std::sqrt(spectrum.power[bin]);
    const double below = std::sqrt(spectrum.power[bin - 1]), above = std::sqrt(spectrum.power[bin + 1]);
    const bool to_above = above >= below;
    const double ratio = std::max(above, below) / middle;
    const double offset = std::clamp((2 * ratio - 1) / (ratio + 1), 0.0, 0.5);  // exact for Hann's window
    SpeedLine line;
    line.hz = (static_cast<double>(bin) + (to_above ? offset : -offset)) * spectrum.bin_hz;
    line.depth = middle / hann_lobe(offset);
    line.hz_uncertainty = spectrum.bin_hz * std::max(0.02, std::sqrt(noise / spectrum.power[bin]));
    return line;
}

bool is_peak(const std::vector<double>& power, std::size_t k) {
    return power[k] >= power[k - 1] && power[k] > power[k + 1];
}

bool is_of_a_stronger(const SpeedLine& line, const std::vector<SpeedLine>& stronger, double bin_hz) {
    return std::ranges::any_of(stronger, [&](const SpeedLine& other) {
        return line.depth < other.depth * leakage(std::abs(line.hz - other.hz) / bin_hz);
    });
}

/// Median of the power over the square of the frequency, as a density: the noise of a tone in white noise.
double noise_slope(const Spectrum& spectrum, const SpectrumRange& range) {
    std::vector<float> ratios;
    for (auto k = static_cast<std::size_t>(range.noise_low_hz / spectrum.bin_hz) + 1;
         k < spectrum.power.size() && static_cast<double>(k) * spectrum.bin_hz < range.noise_high_hz; ++k) {
        const double hz = static_cast<double>(k) * spectrum.bin_hz;
        ratios.push_back(static_cast<float>(spectrum.power[k] / (hz * hz)));
    }
    if (ratios.size() < fewest_bins) return 0;
    // A sine of peak value 1 has a power of ½, and Hann's window a noise bandwidth of 1.5 bins; the median of an
    // exponential distribution lies at ln 2 of its mean.
    const double mean = dsp::median(ratios) / std::numbers::ln2;
    return std::sqrt(mean / 2 / (1.5 * spectrum.bin_hz));
}

}  // namespace

SpeedSpectrum find_lines(std::span<const float> series, double rate_hz, const SpectrumRange& range) {
    SpeedSpectrum found;
    if (series.size() < 4 * fewest_bins) return found;
    const Spectrum spectrum = averaged_spectrum(series, rate_hz);
    const auto searched =
        std::min(spectrum.log_power.size(),
                 static_cast<std::size_t>(noise_reach * range.high_hz / spectrum.bin_hz) + fewest_bins);
    const std::vector<float> noise = dsp::noise_level(std::span(spectrum.log_power).first(searched), 1);
    const auto first = std::max(first_bin, static_cast<std::size_t>(std::ceil(range.low_hz / spectrum.bin_hz)));
    std::vector<SpeedLine> peaks;
    for (std::size_t k = first; k + 1 < searched; ++k) {
        if (static_cast<double>(k) * spectrum.bin_hz > range.high_hz) break;
        if (is_peak(spectrum.power, k) && spectrum.power[k] > least_above_noise * noise[k])
            peaks.push_back(line_at(spectrum, k, noise[k]));
    }
    std::ranges::sort(peaks, std::ranges::greater{}, &SpeedLine::depth);
    for (const SpeedLine& peak : peaks) {
        if (found.lines.size() == most_lines || peak.depth < least_of_strongest * peaks.front().depth) break;
        if (!is_of_a_stronger(peak, found.lines, spectrum.bin_hz)) found.lines.push_back(peak);
    }
    if (range.noise_high_hz > range.noise_low_hz) found.noise_slope = noise_slope(spectrum, range);
    return found;
}

}  // namespace guardband::measure
