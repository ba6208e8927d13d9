#pragma once

#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

namespace guardband::dsp {

/// The factor L of a symmetric, positive definite matrix A = L Lᵀ, such as a covariance or that of normal equations;
/// solves A x = b for as many b as wanted. Gene H. Golub and Charles F. Van Loan, Matrix Computations.
class Cholesky {
public:
    /// Nothing where rows hang together, to a billionth of what stands on the diagonal, or aren't numbers.
    /// @param matrix  size × size, row by row; what lies above the diagonal isn't looked at
    /// @throws DomainError if it has other than size × size elements
    static std::optional<Cholesky> of(std::vector<double> matrix, std::size_t size);

    /// @param known  b  @throws DomainError if it has other than as many elements as A has rows
    std::vector<double> solve(std::vector<double> known) const;
    /// An element of the diagonal of A's inverse.
    double inverse_at(std::size_t i) const;

private:
    Cholesky(std::vector<double> factor, std::size_t size) : factor_(std::move(factor)), size_(size) {}

    std::vector<double> factor_;
    std::size_t size_;
};

}  // namespace guardband::dsp
