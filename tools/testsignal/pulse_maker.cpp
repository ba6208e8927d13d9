#include "testsignal/pulse_maker.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "testsignal/gaussian_noise.h"

namespace guardband::testsignal {
namespace {

constexpr double turn = 2 * std::numbers::pi;
constexpr double silent_db = -150;
constexpr double extra_duty = 0.1;

/// A pulse: from its rising to its falling edge.
struct Pulse {
    double rise_s, fall_s;
};

/// By how much the transport is ahead at time t, s.
double ahead_s(const std::vector<SpeedComponent>& components, double t) {
    double sum = 0;
    for (const SpeedComponent& c : components) {
        const double phase = turn * c.phase_turns, rate = turn * c.hz;
        sum += c.depth_percent / 100 / rate * (std::cos(phase) - std::cos(rate * t + phase));
    }
    return sum;
}

bool holds(const std::vector<std::int64_t>& numbers, std::int64_t number) {
    return std::ranges::find(numbers, number) != numbers.end();
}

/// @param end_s  where the last period ends
std::vector<Pulse> pulses_of(const PulseRecipe& r, Random& random, double& end_s) {
    std::vector<Pulse> pulses;
    std::int64_t number = 0;
    double at = r.lead_s;
    for (const PulseRun& run : r.runs) {
        const double period = 1 / run.rate_hz;
        for (std::int64_t i = 0; i < run.count; ++i, ++number, at += period) {
            const double rise = at - ahead_s(r.components, at) + 1e-6 * r.jitter_us * random.gaussian();
            if (!holds(r.missing, number)) pulses.push_back({rise, rise + r.duty * period});
            if (!holds(r.extra, number)) continue;
            const double extra = rise + (r.duty + (1 - r.duty) / 2) * period;
            pulses.push_back({extra, extra + extra_duty * period});
        }
    }
    end_s = at;
    std::ranges::sort(pulses, {}, &Pulse::rise_s);
    return pulses;
}

/// Adds a bell of this full width at half height.
void add_bump(std::vector<float>& samples, const PulseRecipe& r, double at_s, double height) {
    const double sigma = r.bump_ms / 1000 / 2.3548 * r.sample_rate_hz, middle = at_s * r.sample_rate_hz;
    const auto from = static_cast<std::int64_t>(middle - 6 * sigma), to = static_cast<std::int64_t>(middle + 6 * sigma);
    for (std::int64_t n = std::max<std::int64_t>(0, from); n <= to && n < static_cast<std::int64_t>(samples.size());
         ++n) {
        const double off = (static_cast<double>(n) - middle) / sigma;
        samples[static_cast<std::size_t>(n)] += static_cast<float>(height * std::exp(-off * off / 2));
    }
}

/// Raises the level between two moments; an edge within a sample leaves the share of it that is high.
void add_level(std::vector<float>& samples, const PulseRecipe& r, const Pulse& pulse, double height) {
    const double rise = pulse.rise_s * r.sample_rate_hz + 0.5, fall = pulse.fall_s * r.sample_rate_hz + 0.5;
    for (auto n = static_cast<std::int64_t>(rise); n <= static_cast<std::int64_t>(fall); ++n) {
        if (n < 0 || n >= static_cast<std::int64_t>(samples.size())) continue;
        const auto start = static_cast<double>(n);
        const double share = std::clamp(fall - start, 0.0, 1.0) - std::clamp(rise - start, 0.0, 1.0);
        samples[static_cast<std::size_t>(n)] += static_cast<float>(height * share);
    }
}

}  // namespace

PulseTruth make_pulses(const PulseRecipe& r) {
    Random random(r.seed);
    double end_s = 0;
    const std::vector<Pulse> pulses = pulses_of(r, random, end_s);
    PulseTruth truth;
    const double rest = r.kind == PulseKind::Square ? -r.amplitude : 0;
    const auto count = static_cast<std::size_t>((end_s + r.lead_s) * r.sample_rate_hz);
    truth.samples.assign(count, static_cast<float>(rest));
    for (const Pulse& pulse : pulses) {
        truth.times_s.push_back(pulse.rise_s);
        if (r.kind == PulseKind::Bumps) {
            add_bump(truth.samples, r, pulse.rise_s, r.amplitude);
            add_bump(truth.samples, r, pulse.fall_s, -r.amplitude);
        } else {
            add_level(truth.samples, r, pulse, r.kind == PulseKind::Square ? 2 * r.amplitude : r.amplitude);
        }
    }
    const double noise = r.noise_db < silent_db ? 0 : r.amplitude * std::pow(10, r.noise_db / 20);
    for (float& sample : truth.samples) {
        if (r.inverted) sample = -sample;
        if (noise > 0) sample += static_cast<float>(noise * random.gaussian());
    }
    return truth;
}

}  // namespace guardband::testsignal
