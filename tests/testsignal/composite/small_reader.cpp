#include "small_reader.h"

#include <cmath>
#include <numbers>

namespace guardband::testsignal {
namespace {

/// Place between samples 1 and 2 of four at which their cubic passes a level.
double crossing(const float* y, double level, bool falls) {
    const auto cubic = [&](double x) {
        return y[0] * (-x * (x - 1) * (x - 2) / 6) + y[1] * ((x + 1) * (x - 1) * (x - 2) / 2) +
               y[2] * (-(x + 1) * x * (x - 2) / 2) + y[3] * ((x + 1) * x * (x - 1) / 6) - level;
    };
    double low = 0, high = 1;
    for (int i = 0; i < 50; ++i) {
        const double middle = (low + high) / 2;
        ((cubic(middle) > 0) == falls ? low : high) = middle;
    }
    return low;
}

}  // namespace

SmallReader::SmallReader(const std::vector<float>& mv, double half_sync_mv, double grain) : mv_(mv) {
    double fell = -1;
    for (std::size_t n = 2; n + 2 < mv_.size(); ++n) {
        const bool was = mv_[n - 1] < half_sync_mv, is = mv_[n] < half_sync_mv;
        if (was == is) continue;
        const double at = static_cast<double>(n - 1) + crossing(&mv_[n - 2], half_sync_mv, is);
        if (is)
            fell = at;
        else if (fell >= 0 && at - fell > grain)
            pulses_.push_back({fell, at - fell});
    }
}

std::vector<LowPulse> SmallReader::pulses_of(double width, double off) const {
    std::vector<LowPulse> found;
    for (const LowPulse& pulse : pulses_)
        if (std::abs(pulse.width - width) < off) found.push_back(pulse);
    return found;
}

double SmallReader::period(const std::vector<LowPulse>& pulses, double nominal, double& scatter) {
    // Against the nominal period, so that little is left to round.
    std::vector<std::pair<double, double>> off;
    double k_sum = 0, t_sum = 0;
    for (const LowPulse& pulse : pulses) {
        const double t = pulse.at - pulses.front().at, k = std::round(t / nominal);
        off.emplace_back(k, t - k * nominal);
        k_sum += k, t_sum += t - k * nominal;
    }
    const auto n = static_cast<double>(off.size());
    double kk = 0, kt = 0, squares = 0;
    for (auto& [k, t] : off) {
        k -= k_sum / n, t -= t_sum / n;
        kk += k * k, kt += k * t;
    }
    for (const auto& [k, t] : off) squares += std::pow(t - k * kt / kk, 2);
    scatter = std::sqrt(squares / n);
    return nominal + kt / kk;
}

double SmallReader::level(double from, double to) const {
    double sum = 0;
    int count = 0;
    for (auto n = static_cast<std::size_t>(std::ceil(from)); n < static_cast<std::size_t>(to); ++n, ++count)
        sum += mv_.at(n);
    return sum / count;
}

SmallReader::Sine SmallReader::sine(double from, double to, double turns_per_sample, double origin) const {
    // Least squares of a sine, a cosine and a level, so that no whole number of periods is needed.
    double m[3][4] = {};
    for (auto n = static_cast<std::size_t>(std::ceil(from)); n < static_cast<std::size_t>(to); ++n) {
        const double angle = 2 * std::numbers::pi * turns_per_sample * (static_cast<double>(n) - origin);
        const double row[4] = {std::sin(angle), std::cos(angle), 1, mv_.at(n)};
        for (int i = 0; i < 3; ++i)
            for (int k = 0; k < 4; ++k) m[i][k] += row[i] * row[k];
    }
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j) {
            if (j == i) continue;
            const double share = m[j][i] / m[i][i];
            for (int k = 0; k < 4; ++k) m[j][k] -= share * m[i][k];
        }
    return {{m[0][3] / m[0][0], m[1][3] / m[1][1]}, m[2][3] / m[2][2]};
}

std::vector<float> composite_mv(CompositeRecipe recipe) {
    recipe.sampling.gain_per_volt = 1000;
    recipe.sampling.offset = 0;
    return make_composite(recipe);
}

CompositeRecipe plain_recipe(const char* system, double duration_s, std::int64_t rate_hz) {
    static const table::Table table = table::load_table();
    CompositeRecipe recipe;
    recipe.system = composite_system(table, system);
    recipe.duration_s = duration_s;
    recipe.sampling.rate_hz = rate_hz;
    recipe.picture.kind = CompositePicture::Flat;
    return recipe;
}

}  // namespace guardband::testsignal
