#pragma once

#include <optional>
#include <string>
#include <vector>

#include "measure/waveform/aligned_lines.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// A staircase: the level of each tread from blanking up, and where it is flat.
struct Staircase {
    struct Tread {
        std::size_t begin = 0, end = 0;  ///< samples of the averaged line
        double level = 0;
        std::complex<double> colour;
    };
    std::vector<Tread> treads;  ///< six of five risers
};

/// Insertion test signals of one line of the field interval, as far as it has them. Places are in samples of the
/// averaged line, levels in the samples' unit.
struct TestSignals {
    struct Bar {
        double begin = 0, end = 0, level = 0;
    };
    struct CompositePulse {
        double gain = 0;                           ///< chrominance over luminance, 1 if they are alike
        double late_us = 0;                        ///< chrominance after luminance
        double gain_noise = 0, late_noise_us = 0;  ///< what noise of variance 1 in one sample of one line does to them
    };
    std::optional<Bar> bar;
    std::optional<double> pulse;  ///< middle of a 2T pulse
    std::optional<CompositePulse> composite;
    std::optional<Staircase> staircase;
    bool coloured_staircase = false;
    double base = 0;  ///< level of blanking, late on the back porch
};

/// Looks for a white bar, a 2T pulse, a composite pulse and a staircase by their shapes, wherever on the line they
/// stand.
/// @param white  range from blanking to white   @param t_us  half-amplitude width of the system's T pulse
TestSignals find_test_signals(const AlignedLines& lines, const AveragedLine& line, double white, double t_us);

/// `luma_nonlinearity`, `differential_gain`, `differential_phase`, `k_factor_2t`, `chroma_luma_gain`,
/// `chroma_luma_delay`, by the definitions of ITU-R BT.1439 (from memory): largest less smallest of five steps over the
/// largest; largest less smallest of the subcarrier's height, and of its phase, on six treads, over that at blanking;
/// the 2T pulse's own echoes within a mask of 4 K at 2T from its middle, 2 K at 4T and K from 8T on; areas and centres
/// of gravity of the two parts of the composite pulse.
/// Noise sets the scatter; of the differences of largest and smallest it makes the mean too large by about twice that,
/// which is in the uncertainty.
/// @param white           range from blanking to white; 0 if it is not known
/// @param noise_variance  of one sample, as `add_noise` gives it
void add_test_lines(quantity::Figures& figures, const AlignedLines& lines, double white, double noise_variance,
                    int lines_per_frame);

}  // namespace guardband::measure
