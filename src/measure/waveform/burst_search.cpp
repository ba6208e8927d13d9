#include "measure/waveform/burst_search.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace guardband::measure {
namespace {

constexpr double step_hz = 1000;

/// Sums of products of the samples of a piece, over all lines.
struct Products {
    std::size_t length = 0;
    std::vector<double> sums;  ///< length × length

    double at(std::size_t i, std::size_t k) const { return sums[i * length + k]; }
};

Products products_of(const std::vector<BackPorch>& porches, double rate_hz, double from_us, double to_us) {
    Products products;
    products.length = static_cast<std::size_t>((to_us - from_us) * 1e-6 * rate_hz);
    products.sums.assign(products.length * products.length, 0);
    for (const BackPorch& porch : porches) {
        const auto begin = std::lround(porch.lead + from_us * 1e-6 * rate_hz) - porch.start;
        if (begin < 0 || static_cast<std::size_t>(begin) + products.length > porch.samples.size()) continue;
        const float* piece = porch.samples.data() + begin;
        for (std::size_t i = 0; i < products.length; ++i)
            for (std::size_t k = 0; k < products.length; ++k)
                products.sums[i * products.length + k] += double{piece[i]} * piece[k];
    }
    return products;
}

/// Power of all lines that a level, a cosine and a sine explain.
double explained(const Products& products, double cycles) {
    const std::size_t n = products.length;
    std::vector<std::vector<double>> basis(3, std::vector<double>(n, 1));
    for (std::size_t i = 0; i < n; ++i) {
        basis[1][i] = std::cos(2 * std::numbers::pi * cycles * static_cast<double>(i));
        basis[2][i] = std::sin(2 * std::numbers::pi * cycles * static_cast<double>(i));
    }
    double power = 0;
    for (std::size_t b = 0; b < basis.size(); ++b) {
        // Gram and Schmidt: orthogonal to those before, of norm 1.
        for (std::size_t c = 0; c < b; ++c) {
            double dot = 0;
            for (std::size_t i = 0; i < n; ++i) dot += basis[b][i] * basis[c][i];
            for (std::size_t i = 0; i < n; ++i) basis[b][i] -= dot * basis[c][i];
        }
        double norm = 0;
        for (const double x : basis[b]) norm += x * x;
        if (norm < 1e-9) continue;
        for (double& x : basis[b]) x /= std::sqrt(norm);
        for (std::size_t i = 0; i < n; ++i)
            for (std::size_t k = 0; k < n; ++k) power += basis[b][i] * products.at(i, k) * basis[b][k];
    }
    return power;
}

}  // namespace

double burst_frequency(const std::vector<BackPorch>& porches, double near_hz, double reach_hz, double rate_hz,
                       double from_us, double to_us) {
    const Products products = products_of(porches, rate_hz, from_us, to_us);
    const double highest_hz = rate_hz / 2 - step_hz;
    double best_hz = near_hz, best = -1;
    for (double hz = near_hz - reach_hz; hz <= std::min(near_hz + reach_hz, highest_hz); hz += step_hz)
        if (const double power = explained(products, hz / rate_hz); power > best) best = power, best_hz = hz;
    const double below = explained(products, (best_hz - step_hz) / rate_hz),
                 above = explained(products, (best_hz + step_hz) / rate_hz), bend = 2 * best - below - above;
    return bend > 0 ? best_hz + step_hz / 2 * std::clamp((above - below) / bend, -1.0, 1.0) : best_hz;
}

}  // namespace guardband::measure
