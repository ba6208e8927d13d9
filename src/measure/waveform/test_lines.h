#pragma once

#include "measure/waveform/aligned_lines.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// `luma_nonlinearity`, `differential_gain`, `differential_phase`, `k_factor_2t`, `chroma_luma_gain`,
/// `chroma_luma_delay`, by the definitions of ITU-R BT.1439 (from memory): largest less smallest of five steps over the
/// largest; largest less smallest of the subcarrier's height, and of its phase, on six treads, over that at blanking;
/// the 2T pulse's own echoes within a mask of 4 K at 2T from its middle, 2 K at 4T and K from 8T on; areas and centres
/// of gravity of the two parts of the composite pulse.
/// Noise sets the scatter; what it adds to differences of largest and smallest, and to the largest echo, is taken off.
/// @param white           range from blanking to white; 0 if it is not known
/// @param noise_variance  of one sample, as `add_noise` gives it
/// @param scanning        nullptr if it is not known; the table gives its `t_pulse` and the `pulse_clearance`
void add_test_lines(quantity::Figures& figures, const AlignedLines& lines, double white, double noise_variance,
                    const table::Scanning* scanning);

}  // namespace guardband::measure
