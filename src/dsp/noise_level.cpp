#include "dsp/noise_level.h"

#include <algorithm>
#include <cmath>

#include "quantity/errors.h"

namespace guardband::dsp {
namespace {

constexpr double euler_gamma =
    0.5772156649015329;  // minus the mean of ln u for u distributed exponentially with mean 1

// Limits of a bin about the fit, in nats: 1.1 % of noise lies above the upper one and 0.3 % below the lower; their net
// effect is less than 1 %.
constexpr double highest = 1.5, lowest = -6;
// Fits until lines no longer matter: a line of any height over a tenth of the neighbourhood moves the fourth fit by
// less than 0.2.
constexpr int fits = 4;
constexpr float least_power = 1e-30F;

/// Running sums, so that the sums over any stretch are a difference.
struct Sums {
    std::vector<double> x, xx, y, xy;

    explicit Sums(std::size_t size) : x(size + 1), xx(size + 1), y(size + 1), xy(size + 1) {}
    void set_y(std::span<const double> xs, std::span<const double> ys) {
        for (std::size_t i = 0; i < xs.size(); ++i) y[i + 1] = y[i] + ys[i], xy[i + 1] = xy[i] + xs[i] * ys[i];
    }
    double line_at(double place, std::size_t from, std::size_t to) const {
        const double n = static_cast<double>(to - from);
        const double sx = x[to] - x[from], sy = y[to] - y[from];
        const double spread = xx[to] - xx[from] - sx * sx / n, common = xy[to] - xy[from] - sx * sy / n;
        const double slope = spread > 1e-12 ? common / spread : 0;
        return sy / n + slope * (place - sx / n);
    }
};

}  // namespace

std::vector<float> noise_level(std::span<const float> log_power, std::size_t first, const Neighbourhood& reach) {
    if (first == 0 || first >= log_power.size())
        throw quantity::DomainError("a noise level needs bins after the first one");
    const std::size_t count = log_power.size() - first;
    std::vector<double> x(count), raw(count), y(count), fit(count);
    Sums sums(count);
    for (std::size_t i = 0; i < count; ++i) {
        x[i] = std::log(static_cast<double>(first + i));
        raw[i] = log_power[first + i];
        sums.x[i + 1] = sums.x[i] + x[i], sums.xx[i + 1] = sums.xx[i] + x[i] * x[i];
    }
    y = raw;
    for (int pass = 0; pass < fits; ++pass) {
        if (pass > 0) {
            for (std::size_t i = 0; i < count; ++i) y[i] = std::clamp(raw[i], fit[i] + lowest, fit[i] + highest);
        }
        sums.set_y(x, y);
        for (std::size_t i = 0; i < count; ++i) {
            const std::size_t k = first + i;
            const auto below = static_cast<std::size_t>(static_cast<double>(k) * (1 - 1 / reach.ratio));
            const auto above = static_cast<std::size_t>(static_cast<double>(k) * (reach.ratio - 1));
            const std::size_t left = std::clamp(below, reach.least_bins, reach.most_bins);
            const std::size_t right = std::clamp(above, reach.least_bins, reach.most_bins);
            fit[i] = sums.line_at(x[i], i > left ? i - left : 0, std::min(count, i + right + 1)) + euler_gamma;
        }
    }
    std::vector<float> level(log_power.size());
    for (std::size_t i = 0; i < count; ++i) level[first + i] = static_cast<float>(std::exp(fit[i]));
    std::fill(level.begin(), level.begin() + static_cast<std::ptrdiff_t>(first), level[first]);
    return level;
}

std::vector<float> logarithms(std::span<const float> power) {
    std::vector<float> result(power.size());
    for (std::size_t i = 0; i < power.size(); ++i) result[i] = std::log(std::max(power[i], least_power));
    return result;
}

}  // namespace guardband::dsp
