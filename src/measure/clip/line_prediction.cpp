#include "measure/clip/line_prediction.h"

#include <algorithm>
#include <cstdint>

namespace guardband::measure {
namespace {

/// Of a product's own square: below it there is nothing left to tell it from those before.
constexpr double dependent = 1e-9;

}  // namespace

template <typename Sample>
void Prediction::add_across(const std::array<const Sample*, taps>& rows, int first, int count) {
    std::array<std::array<float, piece>, terms> values;
    for (int from = 0; from + piece <= count; from += piece) {
        const auto at = [&](std::size_t row, int i) { return static_cast<float>(rows[row][first + from + i]); };
        for (std::size_t i = 0; i < piece; ++i) {
            const int x = static_cast<int>(i);
            const float mean = (at(2, x) + at(4, x)) / 2;
            values[0][i] = at(3, x) - mean;
            values[1][i] = (at(2, x) - at(4, x)) / 2;
            values[2][i] = at(1, x) - mean, values[3][i] = at(5, x) - mean;
            values[4][i] = at(0, x) - mean, values[5][i] = at(6, x) - mean;
        }
        for (std::size_t a = 0; a < terms; ++a)
            for (std::size_t b = 0; b <= a; ++b) {
                std::array<float, 8> sums{};
                for (std::size_t i = 0; i < piece; i += sums.size())
                    for (std::size_t lane = 0; lane < sums.size(); ++lane)
                        sums[lane] += values[a][i + lane] * values[b][i + lane];
                for (const float sum : sums) products_[a][b] += static_cast<double>(sum);
            }
        samples_ += piece;
    }
}

template <typename Sample>
void Prediction::add_along(const Sample* row, int first, int count) {
    std::array<const Sample*, taps> shifted;
    for (int tap = -reach; tap <= reach; ++tap) shifted[static_cast<std::size_t>(tap + reach)] = row + tap;
    add_across(shifted, first, count);
}

Prediction& Prediction::operator+=(const Prediction& other) {
    for (std::size_t a = 0; a < terms; ++a)
        for (std::size_t b = 0; b <= a; ++b) products_[a][b] += other.products_[a][b];
    samples_ += other.samples_;
    return *this;
}

Prediction::Fit Prediction::fit() const {
    // Gauss's elimination of the last five, the first on the right-hand side.
    auto m = products_;
    for (std::size_t a = 0; a < terms; ++a)
        for (std::size_t b = 0; b < a; ++b) m[b][a] = m[a][b];
    std::array<double, terms> known{};
    const auto original = m;
    for (std::size_t i = 1; i < terms; ++i) {
        if (m[i][i] <= dependent * original[i][i]) continue;
        for (std::size_t j = i + 1; j < terms; ++j) {
            const double factor = m[j][i] / m[i][i];
            for (std::size_t k = i; k < terms; ++k) m[j][k] -= factor * m[i][k];
            m[j][0] -= factor * m[i][0];
        }
    }
    for (std::size_t i = terms - 1; i >= 1; --i) {
        if (m[i][i] <= dependent * original[i][i]) continue;
        double rest = m[i][0];
        for (std::size_t k = i + 1; k < terms; ++k) rest -= m[i][k] * known[k];
        known[i] = rest / m[i][i];
    }
    Fit fit;
    double left = original[0][0];
    for (std::size_t i = 1; i < terms; ++i) left -= known[i] * original[i][0];
    fit.left = std::max(0.0, left) / std::max(1.0, samples_);
    const double further = known[2] + known[3] + known[4] + known[5];
    fit.weights = {-known[4], -known[2], -0.5 - known[1] / 2 + further / 2, 1, -0.5 + known[1] / 2 + further / 2,
                   -known[3], -known[5]};
    for (const double weight : fit.weights) fit.rounding += weight * weight / 12;
    return fit;
}

template void Prediction::add_across(const std::array<const std::uint8_t*, taps>&, int, int);
template void Prediction::add_across(const std::array<const std::uint16_t*, taps>&, int, int);
template void Prediction::add_along(const std::uint8_t*, int, int);
template void Prediction::add_along(const std::uint16_t*, int, int);

}  // namespace guardband::measure
