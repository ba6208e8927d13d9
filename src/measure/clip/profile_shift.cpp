#include "measure/clip/profile_shift.h"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace guardband::measure {
namespace {

constexpr std::size_t smooth = 4, distance = 8;  ///< of the filter, samples
constexpr int coarse_step = 4;
/// Least correlation of the best match: white noise as strong as the filtered picture gives 0.5.
constexpr double least_match = 0.6;
/// By how much the best match must be better than any other hill.
constexpr double least_lead = 0.1;
/// Coarse shifts this near the best one belong to its hill.
constexpr int hill = 3;
/// Least mean square of a filtered profile; below, there is nothing to match. Profiles are means, in codes.
constexpr float least_power = 0.25F;
/// Share of the profile that must overlap.
constexpr double least_overlap = 0.5;

/// Normalised correlation of `now` moved back by `shift` with `before`; 0 where too little overlaps.
double correlation(std::span<const float> before, std::span<const float> now, int shift) {
    const auto size = static_cast<int>(before.size());
    const int from = std::max(0, -shift), to = std::min(size, size - shift);
    if (to - from < least_overlap * size) return 0;
    float product = 0, power_before = 0, power_now = 0;
    for (int i = from; i < to; ++i) {
        const float a = before[static_cast<std::size_t>(i)], b = now[static_cast<std::size_t>(i + shift)];
        product += a * b, power_before += a * a, power_now += b * b;
    }
    const double power = std::sqrt(static_cast<double>(power_before) * static_cast<double>(power_now));
    return power > 0 ? static_cast<double>(product) / power : 0;
}

void decimate(std::span<const float> from, std::vector<float>& to) {
    to.clear();
    for (std::size_t i = 0; i + coarse_step <= from.size(); i += coarse_step)
        to.push_back(from[i] + from[i + 1] + from[i + 2] + from[i + 3]);
}

/// The rest of the shift beyond a whole number: least squares of now − before on the mean of their gradients.
ProfileShift refine(std::span<const float> before, std::span<const float> now, int whole) {
    const auto size = static_cast<int>(before.size());
    const int from = std::max(1, 1 - whole), to = std::min(size - 1, size - 1 - whole);
    double squares = 0, products = 0, left = 0;
    const auto gradient = [&](int i) {
        const auto at = [](std::span<const float> p, int k) { return p[static_cast<std::size_t>(k)]; };
        return static_cast<double>(at(before, i + 1) - at(before, i - 1) + at(now, i + 1 + whole) -
                                   at(now, i - 1 + whole)) /
               4;
    };
    const auto difference = [&](int i) {
        return static_cast<double>(now[static_cast<std::size_t>(i + whole)] - before[static_cast<std::size_t>(i)]);
    };
    for (int i = from; i < to; ++i) {
        const double g = gradient(i);
        squares += g * g, products += g * difference(i);
    }
    if (squares <= 0) return {static_cast<double>(whole), 1e9};
    const double part = -products / squares;
    for (int i = from; i < to; ++i) {
        const double rest = difference(i) + part * gradient(i);
        left += rest * rest;
    }
    // Neighbours of a smoothed profile err alike: as many as the filter is wide count as one.
    return {whole + part, std::sqrt(smooth * left / (to - from) / squares)};
}

}  // namespace

void ProfileMatcher::prepare(std::span<const float> profile, std::vector<float>& ready) {
    ready.clear();
    for (std::size_t i = 0; i + smooth + distance <= profile.size(); ++i) {
        float value = 0;
        for (std::size_t k = 0; k < smooth; ++k) value += profile[i + k + distance] - profile[i + k];
        ready.push_back(value / smooth);
    }
}

std::optional<int> ProfileMatcher::coarse_shift(std::span<const float> before, std::span<const float> now) {
    decimate(before, coarse_before_);
    decimate(now, coarse_now_);
    const int reach = reach_ / coarse_step;
    match_.clear();
    for (int shift = -reach; shift <= reach; ++shift) match_.push_back(correlation(coarse_before_, coarse_now_, shift));
    const int best = static_cast<int>(std::ranges::max_element(match_) - match_.begin());
    for (int i = 0; i < static_cast<int>(match_.size()); ++i)
        if (std::abs(i - best) > hill &&
            match_[static_cast<std::size_t>(i)] > match_[static_cast<std::size_t>(best)] - least_lead)
            return std::nullopt;
    return best - reach;
}

std::optional<ProfileShift> ProfileMatcher::shift(std::span<const float> before, std::span<const float> now) {
    float power = 0;
    for (const float value : now) power += value * value;
    if (now.empty() || before.size() != now.size() || power < least_power * static_cast<float>(now.size()))
        return std::nullopt;
    const auto coarse = coarse_shift(before, now);
    if (!coarse) return std::nullopt;
    int best = 0;
    double match = 0;
    for (int whole = (*coarse - 1) * coarse_step; whole <= (*coarse + 1) * coarse_step; ++whole)
        if (const double here = correlation(before, now, whole); here > match) best = whole, match = here;
    if (match < least_match) return std::nullopt;
    return refine(before, now, best);
}

}  // namespace guardband::measure
