#include "measure/clip/profile_shift.h"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "rows/signal_kernels.h"

namespace guardband::measure {
namespace {

constexpr double most_left_by_light = 0.5;       ///< of the error without it
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

void decimate(std::span<const float> from, std::vector<float>& to) {
    to.clear();
    for (std::size_t i = 0; i + coarse_step <= from.size(); i += coarse_step)
        to.push_back(from[i] + from[i + 1] + from[i + 2] + from[i + 3]);
}

/// The rest of the shift beyond a whole number: least squares of now − before on the mean of their gradients.
/// @param gain  of `now` over `before`, as where the light changed
ProfileShift refine(std::span<const float> before, std::span<const float> now, int whole, float gain) {
    const auto size = static_cast<int>(before.size());
    const int from = std::max(1, 1 - whole), to = std::min(size - 1, size - 1 - whole);
    double squares = 0, products = 0, difference_squares = 0;
    for (int i = from; i < to; ++i) {
        const float *b = before.data() + i, *n = now.data() + i + whole;
        const auto gradient = static_cast<double>(gain * (b[1] - b[-1]) + n[1] - n[-1]) / 4;
        const auto difference = static_cast<double>(*n - gain * *b);
        squares += gradient * gradient, products += gradient * difference;
        difference_squares += difference * difference;
    }
    if (squares <= 0) return {static_cast<double>(whole), 1e9};
    const double left = std::max(0.0, difference_squares - products * products / squares);
    // Neighbours of a smoothed profile err alike: as many as the filter is wide count as one.
    return {whole - products / squares, std::sqrt(smooth * left / (to - from) / squares)};
}

/// Sums of the squares of all samples before each, and of all. Of two profiles together: neither sum waits for the
/// other.
void add_up_squares(std::span<const float> one, std::span<const float> other, std::vector<double>& sums,
                    std::vector<double>& other_sums) {
    sums.resize(one.size() + 1), other_sums.resize(one.size() + 1);
    double sum = 0, other_sum = 0;
    for (std::size_t i = 0; i < one.size(); ++i) {
        sums[i] = sum, other_sums[i] = other_sum;
        sum += static_cast<double>(one[i] * one[i]), other_sum += static_cast<double>(other[i] * other[i]);
    }
    sums.back() = sum, other_sums.back() = other_sum;
}

/// Sum of the squares of the samples from `from` to before `to`.
double power(const std::vector<double>& squares, int from, int to) {
    return squares[static_cast<std::size_t>(to)] - squares[static_cast<std::size_t>(from)];
}

}  // namespace

void ProfileMatcher::prepare(std::span<const float> profile, std::vector<float>& ready) {
    static_assert(smooth == 4);
    ready.resize(profile.size() < smooth + distance ? 0 : profile.size() - smooth - distance + 1);
    const float* p = profile.data();
    for (std::size_t i = 0; i < ready.size(); ++i, ++p)
        ready[i] = (p[distance] - p[0] + p[distance + 1] - p[1] + p[distance + 2] - p[2] + p[distance + 3] - p[3]) / 4;
}

/// Contrast of `now` over that of `before` where they overlap, by the sums of squares that `correlate` left.
float ProfileMatcher::gain_at(int shift) const {
    const auto size = static_cast<int>(squares_now_.size()) - 1;
    const int from = std::max(0, -shift), to = std::min(size, size - shift);
    const double own = power(squares_now_, from + shift, to + shift), other = power(squares_before_, from, to);
    return own > 0 && other > 0 ? static_cast<float>(std::sqrt(own / other)) : 1;
}

/// Normalised correlations of `now` moved back by `first`, `first` + 1 … with `before`; 0 where too little overlaps.
void ProfileMatcher::correlate(std::span<const float> before, std::span<const float> now, int first, int last) {
    const auto size = static_cast<int>(before.size()), reach = std::max(std::abs(first), std::abs(last));
    const auto beside = static_cast<std::size_t>(reach), count = static_cast<std::size_t>(last - first + 1);
    padded_now_.assign(now.size() + 2 * beside, 0);
    std::ranges::copy(now, padded_now_.begin() + reach);
    products_.resize(count), match_.assign(count, 0);
    rows::fast_signal_kernels().correlate(before.data(), padded_now_.data() + reach + first, size,
                                          static_cast<int>(count), products_.data());
    add_up_squares(before, now, squares_before_, squares_now_);
    for (int shift = first; shift <= last; ++shift) {
        const int from = std::max(0, -shift), to = std::min(size, size - shift);
        if (to - from < least_overlap * size) continue;
        const double both = power(squares_before_, from, to) * power(squares_now_, from + shift, to + shift);
        const auto i = static_cast<std::size_t>(shift - first);
        if (both > 0) match_[i] = static_cast<double>(products_[i]) / std::sqrt(both);
    }
}

std::optional<int> ProfileMatcher::coarse_shift(std::span<const float> before, std::span<const float> now) {
    decimate(before, coarse_before_);
    decimate(now, coarse_now_);
    const int reach = reach_ / coarse_step;
    correlate(coarse_before_, coarse_now_, -reach, reach);
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
    const int first = (*coarse - 1) * coarse_step;
    correlate(before, now, first, (*coarse + 1) * coarse_step);
    const auto best = std::ranges::max_element(match_);
    if (*best < least_match) return std::nullopt;
    const int whole = first + static_cast<int>(best - match_.begin());
    // What comes in at the ends differs in contrast, too: it is light only if that accounts for most of what is left.
    const ProfileShift as_bright = refine(before, now, whole, 1), lit = refine(before, now, whole, gain_at(whole));
    return lit.error < most_left_by_light * as_bright.error ? lit : as_bright;
}

}  // namespace guardband::measure
