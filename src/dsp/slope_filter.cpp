#include "dsp/slope_filter.h"

#include <cmath>
#include <cstddef>

namespace guardband::dsp {

std::vector<float> slope_weights(double sigma) {
    const auto radius = static_cast<std::size_t>(std::ceil(3 * sigma));
    std::vector<float> weights(radius);
    double squares = 0;
    for (std::size_t k = 1; k <= radius; ++k) {
        const auto at = static_cast<double>(k);
        const double weight = at * std::exp(-at * at / (2 * sigma * sigma));
        weights[k - 1] = static_cast<float>(weight);
        squares += 2 * weight * weight;
    }
    for (float& weight : weights) weight /= static_cast<float>(std::sqrt(squares));
    return weights;
}

}  // namespace guardband::dsp
