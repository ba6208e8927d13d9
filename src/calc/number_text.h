#pragma once

#include <string>
#include <string_view>

#include "calc/propagation.h"

namespace guardband::calc {

// Numbers as one would write them beside a formula: no more digits than the uncertainty leaves a meaning.

/// A number's text with a proper minus in place of a hyphen: `−4`.
std::string with_true_minus(const std::string& text);

/// So many significant digits, without noughts that only fill up: `83.5`, `0.0195`, `−4`.
std::string significant(double value, int digits);

/// The same with those noughts, so that columns line up: `26.00`.
std::string with_digits(double value, int digits);

/// `84.2 ± 0.6 mm`: the uncertainty to one significant digit, or two where the first is 1 or 2, and the value to the
/// same place; four digits of the value where there is no uncertainty.
std::string with_uncertainty(double value, double uncertainty, std::string_view unit);
/// The value with its standard uncertainty.
std::string with_uncertainty(const Spread& spread, std::string_view unit);

/// `3:03:50 ± 40 s`; minutes from 100 s of uncertainty on; no uncertainty below half a second.
std::string time_with_uncertainty(double seconds, double uncertainty_s);
std::string time_with_uncertainty(const Spread& seconds);

}  // namespace guardband::calc
