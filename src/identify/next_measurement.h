#pragma once

#include <vector>

#include "identify/posterior.h"
#include "identify/prediction.h"

namespace guardband::identify {

/// What one more observation would be worth.
struct NextMeasurement {
    Kind kind{};
    double bits = 0;  ///< expected information about the mode
    Setting setting;  ///< what it was reckoned for: the likeliest mode's speed
};

/// Every kind of evidence, the most informative first.
///
/// Method: the information is what the uncertainty about the mode is expected to shrink by: Σ P(mode) ∫ p(y | mode)
/// log2 (p(y | mode) / p(y)) dy (mutual information, C. E. Shannon 1948), integrated over the logarithm of what could
/// be read by steps of the narrowest error (smooth bells: the sum is good to nine digits), blunders and the kind's
/// usual scatter in it; a sum for words. Modes that carry a thousandth of the probability together are left out, which
/// changes it by less than 0.01 bit.
/// @param states  what is believed of each mode, for those whose probability is not negligible; others may be empty
std::vector<NextMeasurement> next_measurements(const Evidence& evidence, const Posterior& posterior,
                                               const std::vector<ModeState>& states);

/// The modes, from the most likely on, that carry all but a thousandth of the probability.
std::vector<std::size_t> that_matter(const Posterior& posterior);

}  // namespace guardband::identify
