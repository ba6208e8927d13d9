// What heads lose, and how long waves are, against worked values.
#include <gmock/gmock.h>

#include <cmath>
#include <functional>
#include <map>

#include "calc/head_losses.h"
#include "calc/track_carriers.h"
#include "published/check.h"

namespace guardband {
namespace {

double number(const std::string& text, const char* unit) {
    return quantity::parse_quantity(text, quantity::unit_named(unit), "given").in(unit);
}

double wave_um(const Check& c) { return number(c.given.wavelength, "µm"); }

double azimuth(const Check& c, double (*loss)(double, double, double)) {
    return loss(number(c.given.width, "µm"), number(c.given.angle, "deg"), wave_um(c));
}

double argument(double width_um, double angle_deg, double wavelength_um) {
    return std::pow(10, calc::least_azimuth_loss_db(width_um, angle_deg, wavelength_um) / 20);
}

/// Of what is recorded along the edge: tape speed over the frequency that `key` gives.
double linear_wavelength_um(const Check& c) {
    const auto [format, mode] = built_in().at(c.given.address, c.label);
    return calc::wavelength_um(format->fact_in(*mode, "tape_speed")->in("m/s"), 1e3 * std::stod(c.given.key));
}

double carrier_wavelength_um(const Check& c) {
    const auto [format, mode] = built_in().at(c.given.address, c.label);
    for (const calc::Carrier& carrier : calc::carriers_of(built_in(), *format, *mode))
        if (carrier.key() == c.given.key) return carrier.wavelength.spread.value().value;
    return 0;
}

const std::map<std::string, std::function<double(const Check&)>> losses{
    {"spacing_loss", [](const Check& c) { return calc::spacing_loss_db(number(c.given.spacing, "µm"), wave_um(c)); }},
    {"gap_loss", [](const Check& c) { return calc::gap_loss_db(number(c.given.gap, "µm"), wave_um(c)); }},
    {"thickness_loss",
     [](const Check& c) { return calc::thickness_loss_db(number(c.given.thickness, "µm"), wave_um(c)); }},
    {"azimuth_loss", [](const Check& c) { return azimuth(c, calc::azimuth_loss_db); }},
    {"least_azimuth_loss", [](const Check& c) { return azimuth(c, calc::least_azimuth_loss_db); }},
    {"azimuth_argument", [](const Check& c) { return azimuth(c, argument); }},
    {"linear_wavelength", linear_wavelength_um},
    {"carrier_wavelength", carrier_wavelength_um},
};

}  // namespace

bool holds_loss(const Check& c) {
    const auto loss = losses.find(c.what);
    if (loss == losses.end()) return false;
    EXPECT_NEAR(loss->second(c), std::stod(c.expect), allowance(c));
    return true;
}

}  // namespace guardband
