#pragma once

#include <vector>

#include "identify/likelihood.h"
#include "identify/prior.h"

namespace guardband::identify {

/// How likely each mode is, given the evidence.
struct Posterior {
    std::vector<double> log_likelihoods;  ///< of the modes of `Models::all`, in their order
    std::vector<double> probabilities;    ///< they sum to 1
    double log_evidence = 0;              ///< ln of the evidence's density over all modes

    std::size_t best() const;
    /// Modes from the most likely on; those alike in the table's order.
    std::vector<std::size_t> ranked() const;
};

Posterior posterior_of(const Prior& prior, const Evidence& evidence);

}  // namespace guardband::identify
