#pragma once

#include <functional>

namespace guardband::dsp {

/// Where a function is greatest between two bounds, by golden section: needs no slope, and a function with a single
/// peak there.
/// @param tolerance  half the width of the bracket at which it stops, > 0
/// @throws DomainError if `low` is not below `high` or `tolerance` is not above 0
double maximum_place(const std::function<double(double)>& function, double low, double high, double tolerance);

/// Offset of a parabola's top from the middle of three equally spaced values, in steps: −½ … ½ when the middle is the
/// greatest; 0 if they lie on a line.
double parabola_offset(double before, double middle, double after);

}  // namespace guardband::dsp
