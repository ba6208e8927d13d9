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
constexpr double most_of_all = 0.35;
/// Where they reach: this share of them, and some samples. Whatever is so many errors large needs no likeness.
constexpr double reached_share = 0.99, margin_px = 1, large_in_errors = 10;
/// What values measure before anything is known, so that all weigh the same; how often weights are found anew. Nothing
/// is surer than to 1 ns.
constexpr double equal_weights_square = 1e6, least_variance = 2e-4;
constexpr int rounds = 4;

}  // namespace

Estimated square_of(const Estimated& root) {
    return {root.value * root.value, root.error * std::max(root.error, 2 * root.value)};
}

Estimated root_of(const Estimated& square) {
    const double root = std::sqrt(std::max(square.value, 0.0));
    return {root, square.value > square.error ? square.error / (2 * root) : std::sqrt(square.error)};
}

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
    return root_of(Estimated{all.mean(), error});
}

TwiceOrOnce::Group& TwiceOrOnce::group(std::size_t number) {
    if (groups_.size() <= number) groups_.resize(number + 1);
    return groups_[number];
}

void TwiceOrOnce::twice(std::size_t stretch, std::size_t number, double one, double other, double variance) {
    group(number).twice.push_back(
        {stretch, static_cast<float>(one), static_cast<float>(other), static_cast<float>(variance)});
}

void TwiceOrOnce::once(std::size_t stretch, std::size_t number, double value, double variance) {
    group(number).once.push_back({stretch, static_cast<float>(value), static_cast<float>(variance)});
}

/// 0 if too few are known twice.
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

bool TwiceOrOnce::is_small(const Group& group, const Twice& two) {
    return static_cast<double>(std::abs(two.one + two.other)) / 2 < group.small_below;
}

/// 1 / variance of a product of two factors with this variance, whose common part is as large as the values are.
double TwiceOrOnce::precision(double variance) const {
    const double all = std::max(variance, least_variance) + square_;
    return 1 / (all * all + square_ * square_);
}

double TwiceOrOnce::weight(std::size_t number, double variance) const {
    return precision(variance) / groups_[number].weights;
}

void TwiceOrOnce::weigh(Group& group) const {
    double sum = 0, count = 0;
    for (const Twice& two : group.twice) sum += precision(static_cast<double>(two.variance)), ++count;
    if (count > 0) group.weights = sum / count;
}

/// Adds a group to each stretch of the whole.
void TwiceOrOnce::join(const Group& group, std::vector<MeanSquare>& all) const {
    std::vector<Stretch> stretches(all.size());
    for (const Twice& two : group.twice) {
        Stretch& stretch = stretches[two.stretch];
        const bool small = is_small(group, two);
        stretch.known += small ? 1 : 0;
        (small ? stretch.small : stretch.large)
            .add_weighted(static_cast<double>(two.one) * static_cast<double>(two.other),
                          precision(static_cast<double>(two.variance)) / group.weights);
    }
    for (const Once& one : group.once) {
        Stretch& stretch = stretches[one.stretch];
        const auto value = static_cast<double>(one.value);
        if (std::abs(value) < group.small_below)
            ++stretch.alike;
        else
            stretch.large.add(value * value, static_cast<double>(one.variance));
    }
    for (std::size_t i = 0; i < all.size(); ++i) {
        Stretch& stretch = stretches[i];
        if (stretch.known > 0) stretch.small.scale(1 + stretch.alike / stretch.known);
        all[i].join(stretch.small);
        all[i].join(stretch.large);
    }
}

Estimated TwiceOrOnce::root_mean_square() {
    for (Group& group : groups_) group.small_below = small_below(group);
    square_ = equal_weights_square;
    std::vector<MeanSquare> all;
    for (int round = 0; round < rounds; ++round) {
        all.assign(most_stretches, {});
        for (Group& group : groups_) weigh(group), join(group, all);
        MeanSquare whole;
        for (const MeanSquare& stretch : all) whole.join(stretch);
        square_ = std::max(0.0, whole.mean());
    }
    for (Group& group : groups_) weigh(group);
    return root_of(all);
}

}  // namespace guardband::measure
