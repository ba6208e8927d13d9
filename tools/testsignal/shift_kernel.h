#pragma once

#include <span>
#include <vector>

namespace guardband::testsignal {

/// Weights that read a row of samples between two of them: value at `fraction` past sample `centre()` = sum of
/// weight[k] × sample[k].
///
/// The weights are those whose response comes nearest, in the mean square over frequencies up to `band`, to that of a
/// pure shift, with two things held exactly: a constant stays what it is, and a slope is read at the right place.
/// Formula: least squares over a limited band as in Laakso, Välimäki, Karjalainen and Laine, Splitting the unit delay,
/// 1996; the two constraints by Lagrange multipliers. Whole shifts are exact.
class ShiftKernel {
public:
    /// @param taps  even     @param band  cycles per sample, below 0.5
    ShiftKernel(int taps, double band);

    int centre() const { return taps_ / 2 - 1; }
    /// @param fraction  0 to 1     @param out  as many as there are taps
    void weights(double fraction, std::span<float> out) const;

private:
    int taps_;
    double band_;
    std::vector<double> inverse_;  ///< of the normal equations with their constraints, row by row
};

}  // namespace guardband::testsignal
