#include "measure/clip_sound/hum.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

/// How far from the mains' own frequency hum may be played.
constexpr double largest_speed_error = 0.08;
constexpr int highest_harmonic = 8;
/// A harmonic lies within this of its multiple, or within half a bin.
constexpr double harmonic_tolerance = 1e-3, harmonic_tolerance_hz = 0.3;
constexpr double steady = 0.9;

double nearest_mains(double hz, std::span<const double> mains_hz) {
    return *std::ranges::min_element(mains_hz, {}, [hz](double mains) { return std::abs(hz / mains - 1); });
}

const SteadyLine* line_near(std::span<const SteadyLine> lines, double hz) {
    const SteadyLine* best = nullptr;
    for (const SteadyLine& line : lines) {
        const double off = std::abs(line.hz - hz);
        if (off <= std::max(harmonic_tolerance_hz, harmonic_tolerance * hz) &&
            (best == nullptr || off < std::abs(best->hz - hz)))
            best = &line;
    }
    return best;
}

/// What lies on the multiples of a frequency.
struct Comb {
    double score = 0, weights = 0, moment = 0, square = 0, power = 0, level_variance = 0;
    int harmonics = 0, lowest = 0;
    bool is_steady = false;
};

Comb comb_of(std::span<const SteadyLine> lines, double hz) {
    Comb comb;
    for (int h = 1; h <= highest_harmonic; ++h) {
        const SteadyLine* line = line_near(lines, h * hz);
        if (line == nullptr) continue;
        if (comb.harmonics++ == 0) comb.lowest = h;
        // Low harmonics are the usual ones: a line counts the less the higher it would have to be.
        comb.score += std::log(line->above_noise) / std::sqrt(h);
        const double weight = std::pow(h / line->uncertainty_hz, 2);
        const double off_hz = line->hz / h - hz;
        comb.weights += weight, comb.moment += weight * off_hz, comb.square += weight * off_hz * off_hz;
        const double power = line->amplitude * line->amplitude;
        comb.power += power, comb.level_variance += std::pow(power * line->level_uncertainty_db, 2);
        comb.is_steady = comb.is_steady || line->coherence > steady;
    }
    return comb;
}

}  // namespace

std::optional<Hum> find_hum(std::span<const SteadyLine> lines, std::span<const double> mains_hz) {
    if (mains_hz.empty()) return std::nullopt;
    Comb best;
    double best_hz = 0;
    for (const SteadyLine& line : lines)
        for (int h = 1; h <= highest_harmonic; ++h) {
            const double hz = line.hz / h;
            if (std::abs(hz / nearest_mains(hz, mains_hz) - 1) > largest_speed_error) continue;
            const Comb comb = comb_of(lines, hz);
            const bool enough = comb.lowest > 0 && comb.lowest <= 2 && comb.is_steady;
            if (enough && comb.score > best.score) best = comb, best_hz = hz;
        }
    if (best.harmonics == 0) return std::nullopt;
    Hum hum;
    const double mean = best.moment / best.weights;
    hum.hz = best_hz + mean;
    // Harmonics that agree worse than their uncertainties have it make all of them larger.
    const double excess = best.harmonics < 2 ? 1 : (best.square - best.weights * mean * mean) / (best.harmonics - 1);
    hum.uncertainty_hz = std::sqrt(std::max(1.0, excess) / best.weights);
    hum.level_uncertainty_db = std::sqrt(best.level_variance) / best.power;
    hum.nominal_hz = nearest_mains(hum.hz, mains_hz);
    hum.amplitude = std::sqrt(best.power);
    hum.harmonics = best.harmonics;
    return hum;
}

}  // namespace guardband::measure
