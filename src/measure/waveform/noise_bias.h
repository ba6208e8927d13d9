#pragma once

#include <functional>
#include <span>
#include <vector>

namespace guardband::measure {

/// A reading that only noise can raise, such as a range or a maximum of magnitudes, less what noise adds to it on the
/// average.
///
/// Method: the values without noise are guessed by drawing them towards `likely`: all by one factor, so that noise's
/// share of their scatter about it goes, or each by itself, those that may be noise alone wholly. The reading of many
/// copies of these with noise added, less that of these themselves, is the bias. What is left of it: below a third
/// where all of the reading is noise, nothing where noise is small. Noise is drawn from a fixed seed: the same values
/// give the same reading.
/// @param values  with noise   @param likely  the same number: what they would be without a fault
/// @param deviation  of the noise in each value   @param together  one scatter for all of them; else each by itself
/// @returns 0 or more
double without_noise_bias(std::span<const double> values, std::span<const double> likely, double deviation,
                          bool together, const std::function<double(std::span<const double>)>& reading);

}  // namespace guardband::measure
