#include "measure/clip/roll_off_fit.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

namespace guardband::measure {
namespace {

/// What is fitted: logarithm of the level at the lowest bin, exponent, softness (logarithm of the power lost at half
/// the sampling rate), logarithm of the floor, logarithms of the roll-off's place and of its width by its place.
enum Parameter : std::size_t { Level, Exponent, Softness, Floor, Place, Width };
constexpr std::size_t parameters = 6, without_channel = 4;
using Values = std::array<double, parameters>;

constexpr double lowest = 0.045, highest = 0.49;  ///< cycles per sample
/// What is expected, and how firmly. Five photographs that were reduced to 720 samples a line have exponents of -1.0 to
/// -2.2 and a softness of -2.8 to -5.5 (own measurement); edges alone have -2, and a good camera is less soft.
constexpr double usual_exponent = -1.7, exponent_spread = 0.5, usual_softness = -3.5, softness_spread = 1.5;
constexpr double usual_width = 0.1, width_spread = 0.7;
/// Natural logarithm by which pictures stray from the law.
constexpr double model_error = 0.2;
/// Neighbouring bins under the window are alike.
constexpr double alike_bins = 2;
constexpr int most_rounds = 40;

struct Fit {
    Values values{};
    double cost = 1e300, misfit = 0;
    double place_variance = 0;
};

class RollOffModel {
public:
    RollOffModel(std::span<const double> power, double windows) {
        const auto half = static_cast<double>(power.size() - 1);
        for (std::size_t bin = 1; bin < power.size(); ++bin) {
            const double f = 0.5 * static_cast<double>(bin) / half;
            if (f < lowest || f > highest || power[bin] <= 0) continue;
            frequencies_.push_back(f), log_frequencies_.push_back(std::log(f / lowest));
            logs_.push_back(std::log(power[bin]));
        }
        weight_ = 1 / (alike_bins * (1 / std::max(windows, 1.0) + model_error * model_error));
    }

    std::size_t bins() const { return logs_.size(); }
    double first_log() const { return logs_.front(); }
    double last_log() const { return *std::ranges::min_element(logs_); }

    static double picture(const Values& v, double f) { return picture(v, f, std::log(f / lowest)); }

    Fit fit(Values start, std::size_t used) const;

private:
    /// @param log_f  logarithm of `f` over `lowest`
    static double picture(const Values& v, double f, double log_f) {
        return std::exp(v[Level] + v[Exponent] * log_f + v[Softness] * 4 * f * f);
    }

    /// Residuals, those of the expectations last.
    void residuals(const Values& v, std::size_t used, std::vector<double>& out) const {
        out.clear();
        const double scale = std::sqrt(weight_), floor = std::exp(v[Floor]);
        if (used > without_channel) find_channel(v);
        for (std::size_t i = 0; i < logs_.size(); ++i) {
            const double f = frequencies_[i];
            const double channel = used > without_channel ? channel_[i] : 1;
            const double power = picture(v, f, log_frequencies_[i]) * channel * channel + floor;
            out.push_back(scale * held(logs_[i] - std::log(power)));
        }
        out.push_back((v[Exponent] - usual_exponent) / exponent_spread);
        out.push_back((v[Softness] - usual_softness) / softness_spread);
        if (used > without_channel) out.push_back((v[Width] - std::log(usual_width)) / width_spread);
    }
    /// The channel's response, anew only if it is another one than last: most parameters leave it alone.
    void find_channel(const Values& v) const {
        if (!channel_.empty() && channel_place_ == v[Place] && channel_width_ == v[Width]) return;
        channel_place_ = v[Place], channel_width_ = v[Width];
        const double place = std::exp(v[Place]), width = place * std::exp(v[Width]);
        channel_.resize(frequencies_.size());
        for (std::size_t i = 0; i < channel_.size(); ++i)
            channel_[i] = 0.5 * std::erfc((frequencies_[i] - place) / (std::numbers::sqrt2 * width));
    }
    /// Beyond twice the model's error a residual counts less: patterns in the pictures stand out as lines.
    static double held(double residual) {
        constexpr double knee = 2 * model_error;
        return std::copysign(knee * std::log1p(std::abs(residual) / knee), residual);
    }
    static double squares(const std::vector<double>& values) {
        double sum = 0;
        for (const double value : values) sum += value * value;
        return sum;
    }

    std::vector<double> frequencies_, log_frequencies_;  ///< the latter of what they are of `lowest`
    std::vector<double> logs_;                           ///< of the powers
    double weight_ = 1;
    mutable std::vector<double> channel_;  ///< at the frequencies, of the place and width that it was found for
    mutable double channel_place_ = 0, channel_width_ = 0;
};

using Matrix = std::array<std::array<double, parameters>, parameters>;

/// Solves a symmetric positive system in place by Gauss and Jordan; @returns the inverse too
bool solve(Matrix a, Values b, std::size_t used, Values& x, Matrix& inverse) {
    inverse = {};
    for (std::size_t i = 0; i < used; ++i) inverse[i][i] = 1;
    for (std::size_t i = 0; i < used; ++i) {
        const double pivot = a[i][i];
        if (std::abs(pivot) < 1e-300) return false;
        for (std::size_t j = 0; j < used; ++j) a[i][j] /= pivot, inverse[i][j] /= pivot;
        b[i] /= pivot;
        for (std::size_t r = 0; r < used; ++r) {
            if (r == i) continue;
            const double factor = a[r][i];
            for (std::size_t j = 0; j < used; ++j) a[r][j] -= factor * a[i][j], inverse[r][j] -= factor * inverse[i][j];
            b[r] -= factor * b[i];
        }
    }
    x = b;
    return true;
}

Fit RollOffModel::fit(Values start, std::size_t used) const {
    std::vector<double> now, moved;
    residuals(start, used, now);
    Fit fit{start, squares(now), 0, 0};
    double damping = 1e-2;
    for (int round = 0; round < most_rounds; ++round) {
        Matrix normal{};
        Values slope{};
        std::vector<std::vector<double>> changes(used);
        for (std::size_t p = 0; p < used; ++p) {
            Values nudged = fit.values;
            constexpr double nudge = 1e-4;
            nudged[p] += nudge;
            residuals(nudged, used, moved);
            for (std::size_t i = 0; i < now.size(); ++i) changes[p].push_back((moved[i] - now[i]) / nudge);
        }
        for (std::size_t p = 0; p < used; ++p) {
            for (std::size_t q = 0; q < used; ++q)
                for (std::size_t i = 0; i < now.size(); ++i) normal[p][q] += changes[p][i] * changes[q][i];
            for (std::size_t i = 0; i < now.size(); ++i) slope[p] -= changes[p][i] * now[i];
        }
        Values step{};
        Matrix inverse{}, damped = normal;
        if (used > without_channel && solve(normal, slope, used, step, inverse))
            fit.place_variance = inverse[Place][Place];
        for (std::size_t p = 0; p < used; ++p) damped[p][p] *= 1 + damping;
        if (!solve(damped, slope, used, step, inverse)) break;
        Values next = fit.values;
        for (std::size_t p = 0; p < used; ++p) next[p] += std::clamp(step[p], -0.7, 0.7);
        next[Place] = std::clamp(next[Place], std::log(lowest), std::log(0.6));
        next[Width] = std::clamp(next[Width], std::log(0.02), std::log(0.8));
        residuals(next, used, moved);
        const double cost = squares(moved);
        if (cost >= fit.cost) {
            damping *= 5;
            if (damping > 1e6) break;
            continue;
        }
        const bool settled = fit.cost - cost < 1e-6 * fit.cost;
        fit.values = next, fit.cost = cost, damping = std::max(damping / 5, 1e-7);
        now = moved;
        if (settled) break;
    }
    double sum = 0;
    for (std::size_t i = 0; i < logs_.size(); ++i) sum += now[i] * now[i];
    fit.misfit = std::sqrt(sum / weight_ / static_cast<double>(logs_.size()));
    return fit;
}

constexpr std::size_t fewest_bins = 24;

Values start_of(const RollOffModel& model, double place) {
    return {model.first_log(), usual_exponent,  usual_softness,
            model.last_log(),  std::log(place), std::log(usual_width)};
}

}  // namespace

std::optional<RollOff> fit_roll_off(std::span<const double> power, double windows) {
    if (power.size() < fewest_bins) return std::nullopt;
    const RollOffModel model(power, windows);
    if (model.bins() < fewest_bins) return std::nullopt;
    const Fit plain = model.fit(start_of(model, 0.25), without_channel);
    Fit best;
    for (double place = 0.1; place < 0.48; place += 0.04)
        if (const Fit fit = model.fit(start_of(model, place), parameters); fit.cost < best.cost) best = fit;
    RollOff found;
    found.half_amplitude = std::exp(best.values[Place]);
    found.uncertainty = found.half_amplitude * std::sqrt(std::max(best.place_variance, 0.0));
    found.width = 2 * std::exp(best.values[Width]);
    found.misfit = best.misfit;
    found.gain = (plain.cost - best.cost) / 2;
    found.above_floor = RollOffModel::picture(best.values, found.half_amplitude) / std::exp(best.values[Floor]);
    return found;
}

double drowning_frequency(std::span<const double> power, double windows) {
    if (power.size() < fewest_bins) return 0;
    const RollOffModel model(power, windows);
    if (model.bins() < fewest_bins) return 0;
    const Fit plain = model.fit(start_of(model, 0.25), without_channel);
    for (double f = lowest; f < 0.5; f += 0.002)
        if (RollOffModel::picture(plain.values, f) < std::exp(plain.values[Floor])) return f;
    return 0.5;
}

}  // namespace guardband::measure
