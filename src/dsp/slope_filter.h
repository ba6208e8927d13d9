#pragma once

#include <vector>

namespace guardband::dsp {

/// Weights of an odd filter that shows where a row rises or falls: the slope of a Gaussian, w(k) for k = 1, 2 … to
/// three of its standard deviations, of which w(k) (in[x + k] − in[x − k]) is summed. White noise keeps its RMS.
/// @param sigma  of the Gaussian, samples
std::vector<float> slope_weights(double sigma);

}  // namespace guardband::dsp
