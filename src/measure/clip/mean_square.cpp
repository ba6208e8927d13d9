#include "measure/clip/mean_square.h"

#include <algorithm>
#include <cmath>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

/// How far what is subtracted for noise may be wrong.
constexpr double subtraction_error = 1.0 / 3;
/// Values of a group that are known twice: how many there must be, and which share of all, for others to be taken as
/// like them.
constexpr std::size_t fewest_twice = 50;
constexpr double most_of_all = 0.7;
/// Where they reach: this share of them, and some samples. Whatever is so many errors large needs no likeness.
constexpr double reached_share = 0.99, margin_px = 1, large_in_errors = 10;

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

TwiceOrOnce::Group& TwiceOrOnce::group(std::size_t number) {
    if (groups_.size() <= number) groups_.resize(number + 1);
    return groups_[number];
}

void TwiceOrOnce::twice(std::size_t stretch, std::size_t number, double one, double other) {
    group(number).twice.push_back({stretch, static_cast<float>(one), static_cast<float>(other)});
}

void TwiceOrOnce::once(std::size_t stretch, std::size_t number, double value, double variance) {
    group(number).once.push_back({stretch, static_cast<float>(value), static_cast<float>(variance)});
}

/// Size below which values known once are taken to be like those known twice; 0 if there are too few of the latter.
double TwiceOrOnce::small_below(const Group& group) {
    const auto values = static_cast<double>(group.twice.size() + group.once.size());
    if (group.once.empty() || group.twice.size() < fewest_twice ||
        static_cast<double>(group.twice.size()) < most_of_all * values)
        return 0;
    std::vector<float> reached;
    for (const Twice& two : group.twice) reached.push_back(std::abs(two.one + two.other) / 2);
    double variance = 0;
    for (const Once& one : group.once) variance += static_cast<double>(one.variance);
    const double error = std::sqrt(variance / static_cast<double>(group.once.size()));
    return std::min(dsp::quantile_in_place(reached, reached_share), large_in_errors * error) + margin_px;
}

/// Adds a group to each stretch of the whole.
void TwiceOrOnce::join(const Group& group, std::vector<MeanSquare>& all) {
    const double limit = small_below(group);
    std::vector<Stretch> stretches(all.size());
    for (const Twice& two : group.twice) {
        const auto one = static_cast<double>(two.one), other = static_cast<double>(two.other);
        Stretch& stretch = stretches[two.stretch];
        (std::abs(one + other) / 2 < limit ? stretch.small : stretch.large).add(one * other, 0);
    }
    for (const Once& one : group.once) {
        Stretch& stretch = stretches[one.stretch];
        const auto value = static_cast<double>(one.value);
        if (std::abs(value) < limit)
            ++stretch.alike;
        else
            stretch.large.add(value * value, static_cast<double>(one.variance));
    }
    for (std::size_t i = 0; i < all.size(); ++i) {
        Stretch& stretch = stretches[i];
        if (stretch.small.count > 0) stretch.small.scale(1 + stretch.alike / stretch.small.count);
        all[i].join(stretch.small);
        all[i].join(stretch.large);
    }
}

Estimated TwiceOrOnce::root_mean_square() {
    std::vector<MeanSquare> all(most_stretches);
    for (const Group& group : groups_) join(group, all);
    return root_of(all);
}

}  // namespace guardband::measure
