#pragma once

#include <string>
#include <string_view>

#include "calc/propagation.h"
#include "quantity/figure.h"

namespace guardband::calc {

/// A number for people with as many decimals as its uncertainty gives reason for (one significant digit of it, two if
/// the first is 1 or 2), five significant digits where there is none: `48.59 ± 0.14`, `2.1376`.
std::string number_text(double value, double standard_uncertainty = 0);

/// The same with a unit: `48.59 ± 0.14 µm`, `5.96 ± 0.003°`.
std::string quantity_text(double value, double standard_uncertainty, std::string_view unit);
/// Of a figure; its reason if it has no value.
std::string quantity_text(const quantity::Figure& figure);
/// Of a number and the half-width of what it may be off, as it stands in a formula.
std::string quantity_text(const Input& input, std::string_view unit);

/// A length, angle … without needless digits and with a proper minus: `−5`, `0.1`.
std::string plain_text(double value);

/// A level or loss in dB to a tenth: `4.3 ± 0.5`, `−24.0`; no uncertainty that rounds to nothing.
std::string level_text(double value_db, double standard_uncertainty_db = 0);

}  // namespace guardband::calc
