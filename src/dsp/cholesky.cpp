#include "dsp/cholesky.h"

#include <cmath>
#include <utility>

#include "quantity/errors.h"

namespace guardband::dsp {
namespace {

/// Of an element of the diagonal: with less than that left, its row is made of those before.
constexpr double dependent = 1e-9;

void require(bool condition, const char* what) {
    if (!condition) throw quantity::DomainError(what);
}

}  // namespace

std::optional<Cholesky> Cholesky::of(std::vector<double> matrix, std::size_t size) {
    require(matrix.size() == size * size, "a square matrix has as many rows as columns");
    for (std::size_t i = 0; i < size; ++i)
        for (std::size_t j = 0; j <= i; ++j) {
            double rest = matrix[i * size + j];
            const double whole = rest;
            for (std::size_t k = 0; k < j; ++k) rest -= matrix[i * size + k] * matrix[j * size + k];
            if (i != j) {
                matrix[i * size + j] = rest / matrix[j * size + j];
            } else {
                if (!(rest > dependent * whole) || !(whole > 0)) return std::nullopt;
                matrix[i * size + i] = std::sqrt(rest);
            }
        }
    return Cholesky(std::move(matrix), size);
}

std::vector<double> Cholesky::solve(std::vector<double> known) const {
    require(known.size() == size_, "a right-hand side has as many values as the matrix rows");
    for (std::size_t i = 0; i < size_; ++i) {
        for (std::size_t k = 0; k < i; ++k) known[i] -= factor_[i * size_ + k] * known[k];
        known[i] /= factor_[i * size_ + i];
    }
    for (std::size_t i = size_; i-- > 0;) {
        for (std::size_t k = i + 1; k < size_; ++k) known[i] -= factor_[k * size_ + i] * known[k];
        known[i] /= factor_[i * size_ + i];
    }
    return known;
}

double Cholesky::inverse_at(std::size_t i) const {
    std::vector<double> unit(size_);
    unit[i] = 1;
    return solve(std::move(unit))[i];
}

}  // namespace guardband::dsp
