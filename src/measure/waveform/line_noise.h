#pragma once

#include "measure/waveform/aligned_lines.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// The unified weighting network for noise on luminance as a power ratio, 1 at 0 Hz: a network of τ = 245 ns and a
/// = 4.5 whose loss is 10 log10 [(1 + ((1 + 1/a) ωτ)²) / (1 + (ωτ/a)²)] dB. Source: ITU-T J.61 (from memory; its
/// weighting factors of 7.4 dB for white noise and 12.2 dB for triangular noise in 5 MHz agree).
double unified_weighting(double hz);

/// `luma_snr`, `luma_snr_weighted`.
///
/// Method: the power of what the empty lines of the field interval carry, from 40 kHz (below, as just above) to the
/// table's `noise_bandwidth` of the system, against the range from blanking to
/// white; white follows from the height of sync. A line counts as empty if its mean over the recording is flat. Bias:
/// below 0.1 dB. Scatter: 4.3 dB over the root of 240 per line. Needs an empty line; noise that depends on the
/// picture's level does not show.
/// @param white  range from blanking to white, in the samples' unit; 0 if it is not known
/// @param scanning  nullptr if it is not known
/// @returns the variance that white noise of the same density has in one sample; 0 if it is not known
double add_noise(quantity::Figures& figures, const AlignedLines& lines, double white, const table::Scanning* scanning);

}  // namespace guardband::measure
