#include "measure/clip/screen_rate.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "calc/beat.h"

namespace guardband::measure {
namespace {

constexpr double default_tolerance_share = 2e-4;
constexpr double ruled_out_below = 1.0 / 50;
constexpr double furthest_deviations = 4;  // in frequency: 6 in 100 000 true lights lie further off

constexpr double global_shutter_probability = 0.6, broadcast_factor = 1.5;
constexpr double least_share = 0.3, most_share = 1;  // of a screen that the height of a picture shows
constexpr int share_steps = 15, readout_steps = 21;
// Screens are curved, stand askew and have a blanking of their own: bands are never known better than this.
constexpr double bands_model_uncertainty = 0.05;

double normal(double x, double sigma) {
    return std::exp(-0.5 * x * x / (sigma * sigma)) / (sigma * std::sqrt(2 * std::numbers::pi));
}

/// Probability density of the bands seen, if the light seems to run forwards (`sign` 1) or backwards (−1).
double bands_density(const SeenFlicker& seen, const ScreenLight& light, double sign) {
    const double sigma = std::hypot(seen.bands_uncertainty, bands_model_uncertainty);
    const auto over_shares = [&](double readout_s) {
        if (light.is_lamp) return normal(seen.bands - sign * light.rate_hz * readout_s, sigma);
        double sum = 0;
        for (int i = 0; i < share_steps; ++i) {
            const double share = least_share + (most_share - least_share) * i / (share_steps - 1);
            sum += normal(seen.bands - sign * calc::bands_per_height(light.rate_hz, readout_s, share), sigma);
        }
        return sum / share_steps;
    };
    double rolling = 0;
    for (int i = 0; i < readout_steps; ++i) rolling += over_shares(i / ((readout_steps - 1) * seen.camera_hz));
    return global_shutter_probability * over_shares(0) + (1 - global_shutter_probability) * rolling / readout_steps;
}

double likelihood(const SeenFlicker& seen, const ScreenLight& light) {
    const double beat_hz = calc::beat_hz(light.rate_hz, seen.camera_hz);
    const double multiple = (light.rate_hz - beat_hz) / seen.camera_hz;
    const double sigma = std::hypot(seen.uncertainty_hz, light.tolerance_hz, multiple * seen.camera_uncertainty_hz);
    const double off_hz = seen.frequency_hz - std::abs(beat_hz);
    if (std::abs(off_hz) > furthest_deviations * sigma) return 0;
    // Near half the camera's rate, forwards and backwards look the same.
    const bool has_direction = seen.camera_hz / 2 - seen.frequency_hz > seen.resolution_hz;
    const double sign = beat_hz < 0 ? -1 : 1;
    const double density = has_direction ? bands_density(seen, light, sign)
                                         : 0.5 * (bands_density(seen, light, 1) + bands_density(seen, light, -1));
    return density * normal(off_hz, sigma) * (light.is_broadcast ? broadcast_factor : 1);
}

}  // namespace

std::vector<ScreenLight> screen_lights(const table::Table& table) {
    std::vector<ScreenLight> lights;
    for (const table::Screen& screen : table.screens) {
        const table::Fact* rate = screen.facts.known("refresh_rate");
        const table::Fact* kind = screen.facts.known("kind");
        if (rate == nullptr) continue;
        ScreenLight light;
        light.rate_hz = rate->in("Hz");
        const bool has_tolerance = rate->low && rate->high && *rate->high > *rate->low;
        light.tolerance_hz = has_tolerance ? (rate->highest_in("Hz") - rate->lowest_in("Hz")) / 2
                                           : default_tolerance_share * light.rate_hz;
        light.is_lamp = kind != nullptr && kind->printed == "lamp";
        light.is_broadcast = std::ranges::any_of(table.scannings, [&](const table::Scanning& scanning) {
            return std::abs(scanning.field_rate().value() - light.rate_hz) < 1e-6;
        });
        lights.push_back(light);
    }
    return lights;
}

std::vector<ScreenChoice> explain_flicker(const SeenFlicker& seen, std::span<const ScreenLight> lights) {
    std::vector<ScreenChoice> choices;
    double sum = 0;
    for (const ScreenLight& light : lights) {
        const double weight = likelihood(seen, light);
        if (weight == 0) continue;
        sum += weight;
        const auto same = std::ranges::find(choices, light.rate_hz, &ScreenChoice::rate_hz);
        if (same == choices.end())
            choices.push_back({light.rate_hz, weight});
        else
            same->probability = std::max(same->probability, weight);
    }
    std::ranges::sort(choices, std::greater<>(), &ScreenChoice::probability);
    std::erase_if(choices,
                  [&](const ScreenChoice& c) { return c.probability < ruled_out_below * choices.front().probability; });
    for (ScreenChoice& choice : choices) choice.probability /= sum;
    return choices;
}

}  // namespace guardband::measure
