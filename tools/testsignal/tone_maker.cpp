#include "testsignal/tone_maker.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "testsignal/gaussian_noise.h"

namespace guardband::testsignal {
namespace {

constexpr double turn = 2 * std::numbers::pi;
constexpr std::size_t block_samples = 4096;
constexpr double silent_db = -150;

/// Integral of the relative speed from 0 to t, s.
double played_time_s(const ToneRecipe& r, double t) {
    double time = t * (1 + r.speed_error_percent / 100);
    time += r.drift_percent / 100 * (t * t / (2 * r.duration_s) - t / 2);
    for (const SpeedComponent& c : r.components) {
        const double phase = turn * c.phase_turns, rate = turn * c.hz;
        time += c.depth_percent / 100 / rate * (std::cos(phase) - std::cos(rate * t + phase));
    }
    return time;
}

double hum(const ToneRecipe& r, double t) {
    if (r.hum_db < silent_db) return 0;
    const double level = r.amplitude * std::pow(10, r.hum_db / 20);
    constexpr double third = 0.316;  // −10 dB
    return level * (std::sin(turn * r.hum_hz * t) + third * std::sin(turn * 3 * r.hum_hz * t + 0.7));
}

bool is_away(const ToneRecipe& r, double t) {
    return std::ranges::any_of(r.dropouts,
                               [&](const Interval& d) { return t >= d.start_s && t < d.start_s + d.length_s; });
}

}  // namespace

void make_tone(const ToneRecipe& r, const std::function<void(std::span<const float>)>& take) {
    Random random(r.seed);
    const double noise = r.noise_db < silent_db ? 0 : r.amplitude / std::numbers::sqrt2 * std::pow(10, r.noise_db / 20);
    const double true_rate_hz = r.sample_rate_hz * (1 + r.clock_error_ppm * 1e-6);
    const auto count = static_cast<std::int64_t>(std::llround(r.duration_s * r.sample_rate_hz));
    std::vector<float> block;
    for (std::int64_t n = 0; n < count; ++n) {
        const double t = static_cast<double>(n) / true_rate_hz;
        // The whole turns are taken off before the sine: after an hour there are ten million of them.
        const double turns = std::fmod(r.tone_hz * played_time_s(r, t), 1.0);
        const double tone = is_away(r, t) ? 0 : r.amplitude * std::sin(turn * turns);
        block.push_back(static_cast<float>(tone + hum(r, t) + (noise > 0 ? noise * random.gaussian() : 0)));
        if (block.size() < block_samples && n + 1 < count) continue;
        take(block);
        block.clear();
    }
}

std::vector<float> make_tone(const ToneRecipe& recipe) {
    std::vector<float> all;
    make_tone(recipe, [&](std::span<const float> block) { all.insert(all.end(), block.begin(), block.end()); });
    return all;
}

}  // namespace guardband::testsignal
