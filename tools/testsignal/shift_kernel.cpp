#include "testsignal/shift_kernel.h"

#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>

namespace guardband::testsignal {
namespace {

constexpr int constraints = 2;  // sum and centroid

double sinc(double x) { return x == 0 ? 1 : std::sin(std::numbers::pi * x) / (std::numbers::pi * x); }

}  // namespace

ShiftKernel::ShiftKernel(int taps, double band) : taps_(taps), band_(band) {
    const int n = taps_ + constraints;
    cv::Mat1d equations(n, n, 0.0), inverse;
    for (int i = 0; i < taps_; ++i) {
        for (int j = 0; j < taps_; ++j) equations(i, j) = sinc(2 * band_ * (i - j));
        equations(i, taps_) = equations(taps_, i) = 1;
        equations(i, taps_ + 1) = equations(taps_ + 1, i) = i - centre();
    }
    cv::invert(equations, inverse, cv::DECOMP_LU);
    inverse_.assign(inverse.begin(), inverse.end());
}

void ShiftKernel::weights(double fraction, std::span<float> out) const {
    const int n = taps_ + constraints;
    std::vector<double> wanted(static_cast<std::size_t>(n));
    for (int i = 0; i < taps_; ++i) wanted[static_cast<std::size_t>(i)] = sinc(2 * band_ * (i - centre() - fraction));
    wanted[static_cast<std::size_t>(taps_)] = 1;
    wanted[static_cast<std::size_t>(taps_) + 1] = fraction;
    for (std::size_t i = 0; i < out.size(); ++i) {
        double sum = 0;
        for (std::size_t j = 0; j < wanted.size(); ++j) sum += inverse_[i * wanted.size() + j] * wanted[j];
        out[i] = static_cast<float>(sum);
    }
}

}  // namespace guardband::testsignal
