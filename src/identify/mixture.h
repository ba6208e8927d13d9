#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <numbers>
#include <vector>

namespace guardband::identify {

// Beliefs about the logarithms of a tape's quantities, as weighted sums of normal distributions. In logarithms every
// quantity that is observed is a sum of a few others (a control rate that is played is the recorded one, plus the speed
// that plays, less the speed that recorded), so that what an observation teaches has a closed form: a step of the
// Kalman filter for each term of the sum. That a reading may be a blunder splits each term in two. Textbook
// mathematics (e.g. Bayes' rule for linear models with normal errors); tests/identify/mixture_test.cpp holds it against
// brute integration.

inline constexpr double minus_infinity = -std::numeric_limits<double>::infinity();

/// ln(eᵃ + eᵇ), without overflow.
inline double log_add(double a, double b) {
    const double high = std::max(a, b), low = std::min(a, b);
    return high == minus_infinity ? high : high + std::log1p(std::exp(low - high));
}

/// ln of the normal density.
inline double log_normal(double deviation, double variance) {
    return -0.5 * (deviation * deviation / variance + std::log(2 * std::numbers::pi * variance));
}

/// One weighted normal distribution of a logarithm.
struct Normal {
    double log_weight = 0, mean = 0, variance = 0;
};
using Mixture = std::vector<Normal>;

/// ln of the density of a sum at one place, each term widened by `variance`.
inline double log_density(const Mixture& mixture, double at, double variance = 0) {
    double sum = minus_infinity;
    for (const Normal& term : mixture)
        sum = log_add(sum, term.log_weight + log_normal(at - term.mean, term.variance + variance));
    return sum;
}

/// One weighted normal distribution of N logarithms together.
template <std::size_t N>
struct Term {
    double log_weight = 0;
    std::array<double, N> mean{};
    std::array<std::array<double, N>, N> covariance{};
};
template <std::size_t N>
using Terms = std::vector<Term<N>>;

template <std::size_t N>
double log_total(const Terms<N>& terms) {
    double sum = minus_infinity;
    for (const Term<N>& term : terms) sum = log_add(sum, term.log_weight);
    return sum;
}

/// A reading as a linear function of the N logarithms: value = offset + slope · x + error.
template <std::size_t N>
struct Line {
    double value = 0, variance = 0, offset = 0;
    std::array<double, N> slope{};
};

/// One term after a reading that is right: its weight takes the density that it gave to the reading.
template <std::size_t N>
Term<N> learned(const Term<N>& term, const Line<N>& line) {
    std::array<double, N> gain{};
    double expected = line.offset, variance = line.variance;
    for (std::size_t i = 0; i < N; ++i) {
        if (line.slope[i] == 0) continue;
        expected += line.slope[i] * term.mean[i];
        for (std::size_t j = 0; j < N; ++j) gain[j] += term.covariance[j][i] * line.slope[i];
    }
    for (std::size_t i = 0; i < N; ++i) variance += line.slope[i] * gain[i];
    Term<N> result = term;
    const double deviation = line.value - expected;
    result.log_weight += log_normal(deviation, variance);
    for (std::size_t i = 0; i < N; ++i) {
        result.mean[i] += gain[i] * deviation / variance;
        for (std::size_t j = 0; j < N; ++j) result.covariance[i][j] -= gain[i] * gain[j] / variance;
    }
    return result;
}

/// Drops the terms that carry less than `share` of the heaviest, and all beyond the `most` heaviest. What they carried
/// is lost: with the shares used here less than the sixth digit of a probability.
template <std::size_t N>
void prune(Terms<N>& terms, double share, std::size_t most) {
    double heaviest = minus_infinity;
    for (const Term<N>& term : terms) heaviest = std::max(heaviest, term.log_weight);
    const double floor = heaviest + std::log(share);
    std::erase_if(terms, [&](const Term<N>& term) { return term.log_weight < floor; });
    if (terms.size() <= most) return;
    std::ranges::stable_sort(terms, std::greater{}, &Term<N>::log_weight);
    terms.resize(most);
}

}  // namespace guardband::identify
