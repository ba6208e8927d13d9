#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "quantity/unit.h"

namespace guardband::quantity {

/// A number with its unit and, where known, its uncertainty in the same unit. Whether the uncertainty is a standard
/// uncertainty or a tolerance is the business of who holds it.
struct Quantity {
    double value = 0;
    std::optional<double> uncertainty;
    const Unit* unit = &no_unit();

    /// The value in another unit. @throws DomainError if the dimensions differ
    double in(const Unit& other) const { return converted(value, *unit, other); }
    double in(std::string_view unit_name) const { return in(unit_named(unit_name)); }
    std::optional<double> uncertainty_in(const Unit& other) const;
};

/// Reads a quantity as people write it: `25.0`, `25.0±0.1`, `25.0+-0.1`, `33.35mm/s`, `1.313 ips`, `810ft`, `810ft±10`,
/// `33.35mm/s±0.5%`. A minus sign, a decimal point, an exponent and blanks are taken; a range `246-248 m` means 247
/// ± 1.
/// @param fallback  the unit meant when none is written; its dimension is the one demanded
/// @param input     how the error names the place, e.g. `--length`
/// @throws InputError if it is not a number, not finite, or of another dimension
Quantity parse_quantity(std::string_view text, const Unit& fallback, const std::string& input);

/// The number in the shortest form that reads back as the same double: `25`, `0.1`, `15734.265734265734`.
std::string shortest(double value);

/// Half a unit of the last digit written: 0.05 for `33.3`, 0.5 for `49`. The rounding that a printed figure allows.
/// @param printed  a plain decimal number
double half_last_digit(std::string_view printed);

/// A duration as people read it: `3:15:00`, `0:31:06`. Rounded to the nearest second.
std::string h_mm_ss(double seconds);

}  // namespace guardband::quantity
