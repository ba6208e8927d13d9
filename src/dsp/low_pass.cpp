#include "dsp/low_pass.h"

#include <cmath>
#include <numbers>

#include "quantity/errors.h"

namespace guardband::dsp {
namespace {

/// Kaiser's shape parameter for a stop band of at least 21 dB (J. F. Kaiser, 1974; from memory).
double kaiser_beta(double attenuation_db) {
    if (attenuation_db > 50) return 0.1102 * (attenuation_db - 8.7);
    return 0.5842 * std::pow(attenuation_db - 21, 0.4) + 0.07886 * (attenuation_db - 21);
}

}  // namespace

std::vector<float> low_pass(double pass_end, double stop_start, double attenuation_db) {
    if (!(pass_end > 0 && stop_start > pass_end && stop_start <= 0.5 && attenuation_db >= 21 && attenuation_db <= 120))
        throw quantity::DomainError("a low-pass needs 0 < pass < stop <= 1/2 and 21 to 120 dB");
    const double turn = 2 * std::numbers::pi, cut_off = (pass_end + stop_start) / 2;
    const double order = std::ceil((attenuation_db - 7.95) / (2.285 * turn * (stop_start - pass_end)));
    const auto half = static_cast<int>(order / 2) + 1;
    const double beta = kaiser_beta(attenuation_db), top = std::cyl_bessel_i(0.0, beta);
    std::vector<double> taps;
    double sum = 0;
    for (int n = -half; n <= half; ++n) {
        const double place = static_cast<double>(n) / (half + 1);
        const double window = std::cyl_bessel_i(0.0, beta * std::sqrt(1 - place * place)) / top;
        const double sinc = n == 0 ? 2 * cut_off : std::sin(turn * cut_off * n) / (std::numbers::pi * n);
        taps.push_back(window * sinc);
        sum += taps.back();
    }
    std::vector<float> scaled;
    for (const double tap : taps) scaled.push_back(static_cast<float>(tap / sum));
    return scaled;
}

}  // namespace guardband::dsp
