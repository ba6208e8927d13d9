#include "calc/head_losses.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "quantity/errors.h"

namespace guardband::calc {
namespace {

constexpr double pi = std::numbers::pi;

void require(bool holds, const char* rule) {
    if (!holds) throw quantity::DomainError(rule);
}

/// A length over the wavelength.
double in_waves(double length_um, double wavelength_um) {
    require(wavelength_um > 0 && std::isfinite(wavelength_um), "a wavelength must be above 0");
    require(length_um >= 0 && std::isfinite(length_um), "a length can't be negative");
    return length_um / wavelength_um;
}

/// −20 log10 |sin πn / πn|; exactly infinite at whole n, which sin(πn) in doubles never quite reaches.
double mean_of_waves_loss_db(double waves) {
    if (waves == 0) return 0;
    if (waves == std::floor(waves)) return std::numeric_limits<double>::infinity();
    return -20 * std::log10(std::abs(std::sin(pi * waves) / (pi * waves)));
}

/// b tan α / λ: waves that pass under the gap from one end to the other.
double waves_along_gap(double width_um, double angle_deg, double wavelength_um) {
    require(std::abs(angle_deg) < 90, "an azimuth angle lies between -90 and 90 degrees");
    return in_waves(width_um, wavelength_um) * std::tan(std::abs(angle_deg) * pi / 180);
}

}  // namespace

double wavelength_um(double writing_speed_m_s, double frequency_hz) {
    require(writing_speed_m_s > 0 && frequency_hz > 0, "speed and frequency must be above 0");
    return 1e6 * writing_speed_m_s / frequency_hz;
}

double spacing_loss_db(double spacing_um, double wavelength_um) {
    return 20 * std::numbers::log10e * 2 * pi * in_waves(spacing_um, wavelength_um);
}

double gap_loss_db(double gap_um, double wavelength_um) {
    return mean_of_waves_loss_db(in_waves(gap_um, wavelength_um));
}

double thickness_loss_db(double thickness_um, double wavelength_um) {
    const double depth = 2 * pi * in_waves(thickness_um, wavelength_um);
    return depth == 0 ? 0 : 20 * std::log10(depth / -std::expm1(-depth));
}

double azimuth_loss_db(double width_um, double angle_deg, double wavelength_um) {
    return mean_of_waves_loss_db(waves_along_gap(width_um, angle_deg, wavelength_um));
}

double least_azimuth_loss_db(double width_um, double angle_deg, double wavelength_um) {
    return 20 * std::log10(std::max(1.0, pi * waves_along_gap(width_um, angle_deg, wavelength_um)));
}

Spread level_spread_of(const std::function<double(std::span<const double>)>& level, const std::vector<Input>& inputs) {
    std::vector<double> values;
    for (const Input& input : inputs) values.push_back(input.value);
    Spread spread{level(values)};
    if (!std::isfinite(spread.value)) return spread;
    double squares = 0;
    for (std::size_t i = 0; i < inputs.size(); ++i) {
        const auto moved_by = [&](double step) {
            values[i] = inputs[i].value + step;
            const double moved = level(values);
            values[i] = inputs[i].value;
            return moved;
        };
        if (inputs[i].half_width == 0) continue;
        const double above = moved_by(inputs[i].half_width), below = moved_by(-inputs[i].half_width);
        const double from = std::isfinite(below) ? below : spread.value,
                     to = std::isfinite(above) ? above : spread.value;
        const double half = std::abs(to - from) / (std::isfinite(above) && std::isfinite(below) ? 2 : 1);
        spread.worst += half;
        squares += half * half / 3;
    }
    spread.standard_uncertainty = std::sqrt(squares);
    return spread;
}

}  // namespace guardband::calc
