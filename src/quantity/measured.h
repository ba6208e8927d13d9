#pragma once

#include <string>
#include <string_view>

#include "quantity/quantity.h"

namespace guardband::quantity {

// What people read off a ruler, a counter or a clock. The digits that they write tell how well they read: where no
// uncertainty is given, half a unit of the last digit is taken for it, as with a printed figure.

/// As `parse_quantity`, with an uncertainty in any case: `83` is 83 ± 0.5, `83.0` is 83 ± 0.05, `83.0±0.2` as it says.
/// @throws InputError as `parse_quantity`
Quantity parse_measured(std::string_view text, const Unit& fallback, const std::string& input);

/// A stretch of time: `1:02:30` (hours, minutes, seconds), `62:30` (minutes, seconds), `1:02:30.5`, or a number with a
/// unit of time, `62.5min`; a bare number is seconds. `±` as in a quantity, `1:02:30±2s`.
/// @returns seconds with their uncertainty  @throws InputError also for a negative time, and for 60 seconds or more
/// after a colon
Quantity parse_measured_time(std::string_view text, const std::string& input);

}  // namespace guardband::quantity
