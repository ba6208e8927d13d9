#include "measure/clip/power_map.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dsp/noise_level.h"
#include "dsp/robust.h"

namespace guardband::measure {
namespace {

constexpr int most_bands = 4;      // a screen of 120 Hz read out over 1/24 s has 5 less its height
constexpr int waves_per_band = 4;  // a wave between two loses 5 % of its power
constexpr int wave_count = 2 * most_bands * waves_per_band + 1;

constexpr double contrast_of_fast = 30;  // see `least_contrast`
constexpr double slow_cycles = 16;   // over the stretch; found on a few thousand clips of moving scenes without flicker
constexpr double fewest_cycles = 2;  // over the stretch: below, a wave can't be told from a drift

// Slow waves, of so few cycles over the stretch, are taken only if they travel through the picture, as bands of a
// screen do and fades do not, and the cells have this share of their power in common.
constexpr double few_cycles = 12, least_slow_bands = 0.5, least_slow_share = 0.5;

// Frequencies from here up count for the depth that a search could have seen, cycles per frame; of fields, down to as
// far from the other end.
constexpr double sensitive_cycles = 0.05;

double bands_of(std::size_t wave) { return static_cast<double>(wave) / waves_per_band - most_bands; }

/// Mean over the neighbours of each wave, within a band: three independent spectra instead of one.
std::vector<std::vector<float>> smoothed(const std::vector<std::vector<float>>& spectra) {
    std::vector<std::vector<float>> result;
    for (int w = 0; w < wave_count; ++w) {
        const int from = std::max(0, w - waves_per_band), to = std::min(wave_count, w + waves_per_band + 1);
        std::vector<float> mean(spectra[0].size(), 0.0F);
        for (int v = from; v < to; ++v) {
            const auto& spectrum = spectra[static_cast<std::size_t>(v)];
            for (std::size_t k = 0; k < mean.size(); ++k) mean[k] += spectrum[k];
        }
        for (float& v : mean) v /= static_cast<float>(to - from);
        result.push_back(std::move(mean));
    }
    return result;
}

}  // namespace

double change_response(double cycles) { return 2 * std::abs(std::sin(std::numbers::pi * cycles)); }

std::vector<float> noise_under(const std::vector<float>& log_power, std::size_t first, bool interlaced) {
    if (!interlaced) return dsp::noise_level(log_power, first);
    const auto half = static_cast<std::ptrdiff_t>(log_power.size() / 2);
    const std::vector<float> low(log_power.begin(), log_power.begin() + half + 1);
    const std::vector<float> high(log_power.rbegin(), log_power.rbegin() + half + 1);
    std::vector<float> result = dsp::noise_level(low, first);
    const std::vector<float> mirrored = dsp::noise_level(high, first);
    result.insert(result.end(), mirrored.rbegin() + 1, mirrored.rend());
    return result;
}

PowerMap::PowerMap(const LightSpectra& spectra, const FieldTiming& timing)
    : spectra_(spectra), interlaced_(timing.is_interlaced()) {
    const double bins_per_cycle = 1 / (static_cast<double>(spectra.length()) * spectra.cycles(1));
    const std::size_t bins = spectra.bins(timing);
    first_ = std::min(static_cast<std::size_t>(std::ceil(fewest_cycles * bins_per_cycle)), bins / 2 - 1);
    last_ = interlaced_ ? bins - 1 - first_ : bins - 1;
    std::vector<std::vector<float>> logs;
    for (std::size_t w = 0; w < wave_count; ++w) {
        power_.push_back(spectra.power(bands_of(w), timing));
        logs.push_back(dsp::logarithms(power_.back()));
    }
    for (const auto& log_power : smoothed(logs)) noise_.push_back(noise_under(log_power, first_, interlaced_));
}

double PowerMap::least_contrast(std::size_t bin) const {
    const double cycles = spectra_.cycles(bin);
    const double distance = interlaced_ ? std::min(cycles, 1 - cycles) : cycles;
    return contrast_of_fast * (1 + slow_cycles / (distance * static_cast<double>(spectra_.length())));
}

double PowerMap::depth_of(double power, std::size_t bin) const {
    return 2 * std::sqrt(power) / spectra_.window_sum() / change_response(spectra_.cycles(bin));
}

MapPeak PowerMap::peak_of(std::size_t wave, std::size_t bin) const {
    const double power = power_[wave][bin], noise = noise_[wave][bin];
    return {bin, bands_of(wave), noise > 0 ? power / noise : 0, noise, depth_of(power, bin)};
}

MapPeak PowerMap::best_of(std::size_t bin) const {
    // Of waves that stand out, the strongest: others at its frequency may stand out more, because there is less noise
    // under them.
    const double least = least_contrast(bin);
    MapPeak best = peak_of(0, bin);
    for (std::size_t w = 1; w < wave_count; ++w) {
        const MapPeak peak = peak_of(w, bin);
        const bool stands_out = peak.contrast >= least;
        if (stands_out == (best.contrast >= least)
                ? (stands_out ? peak.depth > best.depth : peak.contrast > best.contrast)
                : stands_out) {
            best = peak;
        }
    }
    return best;
}

std::vector<MapPeak> PowerMap::peaks(double share) const {
    constexpr std::size_t reach = 4;  // bins: half of a line's width under Hann's window
    std::vector<MapPeak> best, result;
    for (std::size_t k = first_; k <= last_; ++k) best.push_back(best_of(k));
    for (std::size_t i = 0; i < best.size(); ++i) {
        if (best[i].contrast < share * least_contrast(best[i].bin)) continue;
        bool highest = true;
        for (std::size_t j = i > reach ? i - reach : 0; j < std::min(best.size(), i + reach + 1); ++j) {
            highest = highest && best[j].contrast * best[j].noise <= best[i].contrast * best[i].noise;
        }
        if (highest) result.push_back(best[i]);
    }
    std::ranges::sort(result, std::greater<>(),
                      [&](const MapPeak& peak) { return peak.contrast / least_contrast(peak.bin); });
    return result;
}

std::vector<MapPeak> PowerMap::slow_peaks() const {
    const double bins_per_cycle = 1 / (static_cast<double>(spectra_.length()) * spectra_.cycles(1));
    const auto end = std::min(last_, static_cast<std::size_t>(few_cycles * bins_per_cycle));
    std::vector<std::pair<double, MapPeak>> found;
    const auto share = [&](std::size_t wave, std::size_t bin) { return power_[wave][bin] / spectra_.cell_power(bin); };
    for (std::size_t w = 1; w + 1 < wave_count; ++w) {
        if (std::abs(bands_of(w)) < least_slow_bands) continue;
        for (std::size_t k = first_; k < end; ++k) {
            const double own = power_[w][k];
            const bool highest = own >= power_[w - 1][k] && own >= power_[w + 1][k] && own >= power_[w][k + 1] &&
                                 own >= power_[w][k - 1];
            if (highest && share(w, k) >= least_slow_share) found.emplace_back(share(w, k), peak_of(w, k));
        }
    }
    std::ranges::sort(found, std::greater<>(), [](const auto& entry) { return entry.first; });
    std::vector<MapPeak> result;
    for (const auto& entry : found) result.push_back(entry.second);
    return result;
}

MapPeak PowerMap::at(double cycles, double bands) const {
    const auto bin = static_cast<std::size_t>(std::lround(cycles / spectra_.cycles(1)));
    const auto wave = std::lround((bands + most_bands) * waves_per_band);
    return peak_of(static_cast<std::size_t>(std::clamp<long>(wave, 0, wave_count - 1)), std::clamp(bin, first_, last_));
}

Sensitivity PowerMap::sensitivity() const {
    Sensitivity result;
    std::vector<double> depths;
    constexpr std::size_t middle = wave_count / 2;
    for (std::size_t k = last_ + 1; k-- > first_;) {
        float noise = 0;  // the most under the waves that screens make, of up to one band
        for (std::size_t w = middle - waves_per_band; w <= middle + waves_per_band; ++w)
            noise = std::max(noise, noise_[w][k]);
        const double cycles = spectra_.cycles(k), depth = depth_of(least_contrast(k) * noise, k);
        if (cycles >= sensitive_cycles && (!interlaced_ || cycles <= 1 - sensitive_cycles)) depths.push_back(depth);
        if (depth < slow_depth && cycles < 0.5) result.slowest_cycles = cycles;
    }
    if (!depths.empty()) result.depth = dsp::quantile_in_place(std::span(depths), 0.9);
    return result;
}

}  // namespace guardband::measure
