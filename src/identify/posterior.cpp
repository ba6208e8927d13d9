#include "identify/posterior.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace guardband::identify {

std::size_t Posterior::best() const {
    return static_cast<std::size_t>(std::ranges::max_element(probabilities) - probabilities.begin());
}

std::vector<std::size_t> Posterior::ranked() const {
    std::vector<std::size_t> order(probabilities.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::ranges::stable_sort(order, std::greater{}, [&](std::size_t i) { return probabilities[i]; });
    return order;
}

Posterior posterior_of(const Prior& prior, const Evidence& evidence) {
    Posterior posterior;
    posterior.log_evidence = minus_infinity;
    // A mode that the prior rules out is weighed too: what the evidence says of it is shown all the same.
    posterior.log_likelihoods = log_likelihoods(evidence);
    for (std::size_t i = 0; i < posterior.log_likelihoods.size(); ++i) {
        posterior.probabilities.push_back(std::log(prior.probabilities()[i]) + posterior.log_likelihoods[i]);
        posterior.log_evidence = log_add(posterior.log_evidence, posterior.probabilities.back());
    }
    double sum = 0;
    for (double& probability : posterior.probabilities) {
        probability = std::exp(probability - posterior.log_evidence);
        sum += probability;
    }
    for (double& probability : posterior.probabilities) probability /= sum;
    return posterior;
}

}  // namespace guardband::identify
