#pragma once

#include <complex>
#include <cstddef>
#include <optional>
#include <vector>

#include "measure/waveform/aligned_lines.h"

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

}  // namespace guardband::measure
