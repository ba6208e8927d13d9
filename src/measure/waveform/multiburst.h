#pragma once

#include <optional>
#include <vector>

#include "measure/waveform/aligned_lines.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// One burst of a multiburst.
struct WaveBurst {
    double hz = 0;
    double db = 0;           ///< height against the reference
    double uncertainty = 0;  ///< dB
};

/// A multiburst: bursts of rising frequency on a pedestal.
struct Multiburst {
    std::vector<WaveBurst> bursts;  ///< of rising frequency
    bool by_flag = false;           ///< held against the flags before them; else against the first, slowest burst
};

/// Looks for a multiburst on an averaged line of the field interval, wherever on it the bursts stand and whatever their
/// frequencies are.
///
/// Method: runs of swing about one level; a sine with its frequency, laid through the inside of each run by least
/// squares; its height over the step from the bright to the dark flag before the bursts, or, where there are not both,
/// over that of the slowest burst. What the averaging loses to lines that are not laid on each other exactly is told by
/// the power of the single lines and made up for, as is the loss of the interpolation between samples. Bias: below
/// 0.05 dB; scatter as noise has it, in the uncertainty. Beyond 0.45 of the sampling rate no burst is measured.
/// @param white           range from blanking to white, in the samples' unit
/// @param noise_variance  of one sample
std::optional<Multiburst> find_multiburst(const AlignedLines& lines, const AveragedLine& line, double white,
                                          double noise_variance);

/// `multiburst` (dB): the burst that is furthest from the reference, and `multiburst_1` … `multiburst_6`: each of them.
/// @param white  0 if it is not known
void add_multiburst(quantity::Figures& figures, const AlignedLines& lines, double white, double noise_variance);

}  // namespace guardband::measure
