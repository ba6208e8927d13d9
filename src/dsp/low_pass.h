#pragma once

#include <vector>

namespace guardband::dsp {

/// Coefficients of a low-pass of linear phase, symmetric, their sum 1: a sinc under Kaiser's window.
/// @param pass_end, stop_start  ends of the flat and of the suppressed band, cycles per sample, 0 < pass < stop ≤ ½
/// @param attenuation_db  of the suppressed band, 21 to 120; the flat band is as flat
/// @throws DomainError outside these ranges
std::vector<float> low_pass(double pass_end, double stop_start, double attenuation_db);

}  // namespace guardband::dsp
