#pragma once

#include <cmath>

#include "identify/kinds.h"
#include "identify/mixture.h"

namespace guardband::identify {

// Terms that carry less than this of the heaviest are dropped, and no more than these are kept: with them a posterior
// of ten readings differs by less than 1e-4 from one without limits (likelihood_test.cpp).
inline constexpr double least_share = 1e-7;
inline constexpr std::size_t most_terms = 48;

/// Takes a reading in: each term splits into one where the reading is right and one where it is a blunder.
/// @param can_be_right  false: there is no such thing to be read, so it is a blunder
/// @param line_of       the reading as a line, near a term
template <std::size_t N, typename LineOf>
void absorb(Terms<N>& terms, const KindData& kind, bool can_be_right, LineOf line_of) {
    const double log_right = std::log(1 - kind.blunders);
    const double log_wrong = std::log(kind.blunders) + kind.log_blunder_density;
    const std::size_t count = terms.size();
    for (std::size_t i = 0; i < count; ++i) {
        if (can_be_right) {
            terms.push_back(learned(terms[i], line_of(terms[i])));
            terms.back().log_weight += log_right;
        }
        terms[i].log_weight += log_wrong;
    }
    prune(terms, least_share, most_terms);
}

}  // namespace guardband::identify
