#include "measure/clip/resampling_trace.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numeric>

#include "dsp/fft.h"
#include "dsp/robust.h"
#include "dsp/window.h"

namespace guardband::measure {
namespace {

constexpr float gradient_weight = 3, rounding_energy = 4;  // squared codes of the clip
constexpr double fewest_lines = 15, fewest_periods = 12;
constexpr double least_clearness = 8;
constexpr std::size_t padding = 4;         ///< the transform is so many times finer than the places allow
constexpr double block_rates = 16;         ///< block codecs leave traces at multiples of a sixteenth
constexpr double block_places = 1.5;       ///< in units of one over the places
constexpr std::size_t neighbourhood = 64;  ///< bins to either side whose middle is the background
constexpr double most_turned = 0.8;        ///< radians between parts that show the same
constexpr double least_of_part = 0.4;      ///< of the whole's amplitude
constexpr double strongest_harmonic = 0.6;
constexpr double pattern_clearness = 4;

float roughness(float a, float b, float c) {
    const float d = a - 2 * b + c, g = c - a;
    return d * d / (d * d + gradient_weight * g * g + rounding_energy);
}

/// Amplitude and phase of a part at one rate; the phase counts from the whole's first place.
std::complex<double> part_at(std::span<const float> values, std::size_t first, std::size_t count, double cycles) {
    const std::span<const float> part = values.subspan(first, count);
    const double mean = std::accumulate(part.begin(), part.end(), 0.0) / static_cast<double>(count);
    const std::vector<float> window = dsp::hann(count);
    std::vector<float> windowed(count);
    for (std::size_t i = 0; i < count; ++i) windowed[i] = window[i] * (part[i] - static_cast<float>(mean));
    const std::complex<double> turn = std::polar(1.0, -2 * std::acos(-1.0) * cycles * static_cast<double>(first));
    return dsp::dft_at(windowed, cycles) * turn * 4.0 / static_cast<double>(count);
}

bool are_alike(std::complex<double> part, std::complex<double> whole) {
    return std::abs(part) >= least_of_part * std::abs(whole) && std::abs(std::arg(part / whole)) <= most_turned;
}

/// Whether levels come round at a rate much more than at those near it.
bool is_pattern(std::span<const double> levels, double cycles) {
    if (levels.empty()) return false;
    const std::vector<float> values(levels.begin(), levels.end());
    const auto amplitude = [&](double rate) { return std::abs(part_at(values, 0, values.size(), rate)); };
    const double step = 1 / static_cast<double>(values.size());
    double beside = 0, count = 0;
    for (const int bins : {-6, -5, -4, -3, 3, 4, 5, 6}) {
        const double rate = cycles + bins * step;
        if (rate > 2 * step && rate < 0.5) beside += amplitude(rate), ++count;
    }
    return amplitude(cycles) * count > pattern_clearness * beside;
}

bool is_of_blocks(double cycles, std::size_t places) {
    const double steps = cycles * block_rates;
    return std::abs(steps - std::round(steps)) / block_rates < block_places / static_cast<double>(places);
}

}  // namespace

RoughnessProfile::RoughnessProfile(std::size_t places) { sums_.fill(std::vector<float>(places)); }

void RoughnessProfile::add_along(std::span<const float> line, std::size_t part) {
    float* sums = sums_[part].data();
    const float* in = line.data();
    const std::size_t places = std::min(sums_[part].size(), line.size() < 2 ? 0 : line.size() - 2);
    for (std::size_t i = 0; i < places; ++i) sums[i] += roughness(in[i], in[i + 1], in[i + 2]);
}

void RoughnessProfile::add_across(const float* above, const float* here, const float* below, std::size_t count,
                                  std::size_t place, std::size_t part) {
    float sum = 0;
    for (std::size_t i = 0; i < count; ++i) sum += roughness(above[i], here[i], below[i]);
    sums_[part][place] += sum / static_cast<float>(count);
}

bool RoughnessProfile::is_everywhere(const std::vector<float>& mean, const ResamplingTrace& trace) const {
    const std::size_t places = mean.size(), third = places / parts;
    const std::complex<double> whole = part_at(mean, 0, places, trace.cycles);
    for (std::size_t part = 0; part < parts; ++part) {
        if (counts_[part] == 0) return false;
        const std::complex<double> of_lines = part_at(sums_[part], 0, places, trace.cycles) / counts_[part];
        if (!are_alike(part_at(mean, part * third, third, trace.cycles), whole) || !are_alike(of_lines, whole))
            return false;
    }
    // Bars and grids of a picture have harmonics, and what is no harmonic of theirs is none of a scaler either.
    const double second = 2 * trace.cycles;
    return second > 0.48 || std::abs(part_at(mean, 0, places, second)) <= strongest_harmonic * std::abs(whole);
}

std::optional<ResamplingTrace> RoughnessProfile::trace(std::span<const double> levels) const {
    const std::size_t places = sums_[0].size();
    if (lines() < fewest_lines || places < 3 * static_cast<std::size_t>(fewest_periods)) return std::nullopt;
    std::vector<float> mean(places);
    for (std::size_t i = 0; i < places; ++i)
        mean[i] = static_cast<float>(static_cast<double>(sums_[0][i] + sums_[1][i] + sums_[2][i]) / lines());
    const double level = std::accumulate(mean.begin(), mean.end(), 0.0) / static_cast<double>(places);
    const dsp::RealFft transform(dsp::fast_length(padding * places));
    const std::vector<float> window = dsp::hann(places);
    std::vector<float> padded(transform.length());
    for (std::size_t i = 0; i < places; ++i) padded[i] = window[i] * (mean[i] - static_cast<float>(level));
    std::vector<std::complex<float>> spectrum(transform.bins());
    transform.forward(padded, spectrum);
    std::vector<float> amplitudes;
    for (const auto& bin : spectrum) amplitudes.push_back(std::abs(bin) * 4 / static_cast<float>(places));

    const auto rate = [&](std::size_t bin) {
        return static_cast<double>(bin) / static_cast<double>(transform.length());
    };
    const auto first = static_cast<std::size_t>(fewest_periods * static_cast<double>(transform.length()) /
                                                static_cast<double>(places));
    std::optional<ResamplingTrace> best;
    for (std::size_t bin = first; bin < amplitudes.size(); ++bin) {
        if (best && static_cast<double>(amplitudes[bin]) <= best->depth) continue;
        if (is_of_blocks(rate(bin), places)) continue;
        best = ResamplingTrace{rate(bin), 0, static_cast<double>(amplitudes[bin]), 0};
    }
    if (!best) return std::nullopt;
    const auto at = static_cast<std::size_t>(std::lround(best->cycles * static_cast<double>(transform.length())));
    const std::size_t from = at > first + neighbourhood ? at - neighbourhood : first,
                      to = std::min(amplitudes.size(), at + neighbourhood);
    std::vector<float> beside(amplitudes.begin() + static_cast<std::ptrdiff_t>(from),
                              amplitudes.begin() + static_cast<std::ptrdiff_t>(to));
    best->clearness = best->depth / std::max(1e-9, dsp::quantile_in_place(std::span<float>(beside), 0.5));
    if (best->clearness < least_clearness || !is_everywhere(mean, *best) || is_pattern(levels, best->cycles))
        return std::nullopt;
    if (at > 0 && at + 1 < amplitudes.size()) {
        const auto a = static_cast<double>(amplitudes[at - 1]), b = static_cast<double>(amplitudes[at]),
                   c = static_cast<double>(amplitudes[at + 1]);
        if (a - 2 * b + c < 0)
            best->cycles += 0.5 * (a - c) / (a - 2 * b + c) / static_cast<double>(transform.length());
    }
    // A quarter of the width of the window's peak over the clearness.
    best->uncertainty = 1 / (static_cast<double>(places) * best->clearness);
    return best;
}

}  // namespace guardband::measure
