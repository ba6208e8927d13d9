#include "measure/clip/mean_square.h"

#include <algorithm>
#include <cmath>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

/// How far what is subtracted for noise may be wrong.
constexpr double subtraction_error = 1.0 / 3;
/// Values known twice: how many there must be, and which share of all, for others to be taken as like them.
constexpr std::size_t fewest_twice = 200;
constexpr double most_of_all = 0.7;
/// Where they reach: this share of them, and some samples.
constexpr double reached_share = 0.99, margin_px = 1;

}  // namespace

Estimated root_of(const std::vector<MeanSquare>& stretches) {
    MeanSquare all;
    double used = 0, scatter = 0;
    for (const MeanSquare& s : stretches) {
        all.join(s);
        used += s.count > 0 ? 1 : 0;
    }
    for (const MeanSquare& s : stretches)
        if (s.count > 0) scatter += (s.mean() - all.mean()) * (s.mean() - all.mean());
    const double noise = all.count > 0 ? subtraction_error * all.subtracted / all.count : 0;
    const double error = std::hypot(used > 1 ? std::sqrt(scatter / (used - 1) / used) : std::abs(all.mean()), noise);
    const double value = std::sqrt(std::max(all.mean(), 0.0));
    // Of a root: half the relative error; near 0, the root of the error.
    return {value, value * value > error ? error / (2 * value) : std::sqrt(error)};
}

void TwiceOrOnce::twice(std::size_t stretch, double one, double other) {
    stretches_[stretch].twice.add(one * other, 0);
    reached_.push_back(static_cast<float>(std::abs(one + other) / 2));
}

void TwiceOrOnce::once(std::size_t stretch, double value, double variance) {
    once_.push_back({stretch, static_cast<float>(value), static_cast<float>(variance)});
}

Estimated TwiceOrOnce::root_mean_square() {
    const auto all_values = static_cast<double>(reached_.size() + once_.size());
    const bool enough =
        reached_.size() >= fewest_twice && static_cast<double>(reached_.size()) > most_of_all * all_values;
    const double reach = enough ? dsp::quantile_in_place(reached_, reached_share) + margin_px : 0;
    for (const Once& one : once_) {
        Stretch& stretch = stretches_[one.stretch];
        const auto value = static_cast<double>(one.value);
        if (std::abs(value) < reach)
            ++stretch.alike;
        else
            stretch.once.add(value * value, static_cast<double>(one.variance));
    }
    std::vector<MeanSquare> all;
    for (Stretch& stretch : stretches_) {
        if (stretch.twice.count > 0) stretch.twice.scale(1 + stretch.alike / stretch.twice.count);
        stretch.twice.join(stretch.once);
        all.push_back(stretch.twice);
    }
    return root_of(all);
}

}  // namespace guardband::measure
