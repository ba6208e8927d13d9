#include "measure/sound/nominal_tone.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace guardband::measure {
namespace {

constexpr std::array test_tones_hz{1000.0, 3000.0, 3150.0, 3300.0, 6300.0, 10'000.0};
/// Machines in need of repair run some per cent wrong; a tenth is rare.
constexpr double possible_error = 0.12;

double error_of(double measured_hz, double tone_hz) { return std::abs(std::log(measured_hz / tone_hz)); }

}  // namespace

NominalTone nominal_tone(double measured_hz, std::optional<double> given_hz) {
    NominalTone nominal;
    nominal.is_given = given_hz.has_value();
    nominal.hz = given_hz.value_or(
        *std::ranges::min_element(test_tones_hz, {}, [&](double tone_hz) { return error_of(measured_hz, tone_hz); }));
    if (nominal.is_given) return nominal;
    for (const double tone_hz : test_tones_hz)
        if (tone_hz != nominal.hz && error_of(measured_hz, tone_hz) < possible_error)
            nominal.others_hz.push_back(tone_hz);
    return nominal;
}

}  // namespace guardband::measure
