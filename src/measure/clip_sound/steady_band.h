#pragma once

#include <complex>
#include <cstdint>
#include <span>
#include <vector>

#include "dsp/fft.h"

namespace guardband::measure {

/// What a band of frequencies showed over a whole recording. Frequencies rise evenly.
struct BandSpectrum {
    double first_hz = 0, step_hz = 0;  ///< of the values below
    std::vector<float>
        log_power;  ///< mean over the pieces of the logarithm of the power: what comes and goes counts little
    std::vector<float> coherence;       ///< 0 … 1: how steady the phase runs on from piece to piece
    std::vector<double> advance_turns;  ///< mean advance of the phase from piece to piece, −½ … ½ turn
    double hop_s = 0;                   ///< from piece to piece
    double noise_bins = 1;              ///< power of a line, added up over its bins, over that of its greatest bin
    double line_gain = 1;               ///< power of a sine of amplitude 1, added up over its bins
    int pieces = 0;

    double hz(double bin) const { return first_hz + step_hz * bin; }
};

/// Looks for what is steady in a band of frequencies: mixes it down, takes few samples of it, and adds up the spectra
/// of overlapping pieces. Memory is that of one piece.
class SteadyBand {
public:
    /// @param low_hz, high_hz  the band, within half of the sampling rate   @param piece_s  length of a piece
    SteadyBand(double sample_rate_hz, double low_hz, double high_hz, double piece_s);

    void hear(std::span<const float> samples);
    /// @returns no values if less than two pieces were heard
    BandSpectrum finish() const;

private:
    void take_piece();

    double low_hz_, high_hz_, centre_hz_, rate_hz_;
    std::size_t decimation_;
    std::vector<float> taps_, window_;
    std::complex<double> turn_, phase_{1, 0};
    std::int64_t mixed_ = 0;
    std::vector<std::complex<float>> waiting_, piece_, spectrum_, before_;
    std::size_t next_ = 0;
    dsp::ComplexFft fft_;
    std::vector<double> log_sum_, power_sum_;
    std::vector<std::complex<double>> advance_;
    int pieces_ = 0, pairs_ = 0;
};

}  // namespace guardband::measure
