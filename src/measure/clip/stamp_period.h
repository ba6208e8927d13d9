#pragma once

#include <span>

namespace guardband::measure {

/// The step that a short row of time stamps is made of: most steps are a whole multiple of it, give or take a fifth. Of
/// several such steps the largest is it, so that a row of 40, 80, 40, 40 has step 40, and one of 80, 80, 80 has
/// step 80.
/// @param steps  differences of neighbouring stamps, any order; those not above 0 are ignored
/// @returns 0 if no step is above 0
double common_step(std::span<const double> steps);

/// The period of a row of stamps whose step is roughly known: from differences over more and more stamps, each counted
/// in whole periods of what is known so far. Medians, so that gaps and wrong stamps don't matter. Good to a
/// thousandth with 64 stamps that jitter by a tenth of a period.
/// @param ticks  at least one   @param step  good to 5 %
double refined_period(std::span<const double> ticks, double step);

}  // namespace guardband::measure
