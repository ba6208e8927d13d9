#pragma once

#include <algorithm>
#include <cstdint>

#include "rows/kernels.h"

namespace guardband::measure {

/// Sums over one comb cell of a row: of the samples, of their squares, and of the squared steps from the row above it
/// in the field. All are exact.
struct CellSums {
    std::uint32_t sum = 0, squares = 0, steps = 0;
};

/// Sums over one comb cell of two signals, of their squares and of their products.
struct CellMoments {
    double a = 0, b = 0, a_squares = 0, products = 0, b_squares = 0;
};

/// Energy of the comb signal a − b in one row of a cell, less what its mean and its regression on a + b, the picture,
/// explain. @param m  of a, twice the row in the middle, and b, the sum of those around it
/// @param flat  variance of a sample, below which there is no picture to regress on
inline float comb_energy(const CellMoments& m, double flat) {
    // All are `n` times what they are named after, so that they stay whole numbers, which are exact, and one division
    // does.
    constexpr double n = rows::comb_cell_samples;
    const double comb = m.a - m.b, mean = m.a + m.b, squares = m.a_squares + m.b_squares;
    const double comb_squares = n * (squares - 2 * m.products) - comb * comb;
    const double products = n * (m.a_squares - m.b_squares) - comb * mean;
    const double mean_squares = n * (squares + 2 * m.products) - mean * mean;
    return static_cast<float>((1 / n) *
                              std::max(0.0, comb_squares - products * products / (mean_squares + flat * n * n)));
}

}  // namespace guardband::measure
