#pragma once

#include <complex>
#include <map>
#include <optional>
#include <vector>

#include "dsp/fft.h"
#include "measure/waveform/field_layout.h"
#include "measure/waveform/line_clock.h"

namespace guardband::measure {

/// One line of the field interval, averaged over the recording. Sample 0 lies `lead_us` before the middle of sync's
/// leading edge; levels are above blanking, in the samples' unit.
struct AveragedLine {
    bool half_line = false;    ///< of a field that starts half way between lines
    int in_field = 0;          ///< lines since the start of field sync
    std::int64_t count = 0;    ///< lines that went in
    std::vector<double> luma;  ///< sums; colour not taken out
    std::vector<std::complex<double>>
        chroma;                 ///< sums of amplitude and phase, each line's own phase turned to a common one
    std::vector<double> power;  ///< sums of the noise's power per bin

    double level(std::size_t i) const { return luma[i] / static_cast<double>(count); }
    std::complex<double> colour(std::size_t i) const { return chroma[i] / static_cast<double>(count); }
};

/// Averages each line of the field interval over all frames, for insertion test signals and noise.
///
/// Lines are laid on each other by their syncs' leading edges to a small part of a sample (a windowed sinc of 24 taps,
/// flat to 0.4 of the sampling rate). Chrominance is had by a Gaussian of 0.25 µs around the subcarrier; every line's
/// is turned by its own mean phase, since that changes from frame to frame. The power of noise is had between 11.5 and
/// 60 µs, or as far as the line goes, under Hann's window, less the line's mean.
class AlignedLines {
public:
    static constexpr double lead_us = 0.5;
    static constexpr double smooth_us = 0.25;  ///< the Gaussian that chroma is read by

    /// @param subcarrier_hz  0: chrominance is not sought
    AlignedLines(const FieldLayout& layout, double rate_hz, double line_samples, double subcarrier_hz);

    void see_line(const VideoLine& line, const SampleWindow& window);

    const std::map<int, AveragedLine>& lines() const { return lines_; }
    double samples_per_us() const { return samples_per_us_; }
    double subcarrier_hz() const { return cycles_per_sample_ * samples_per_us_ * 1e6; }
    double bin_hz() const { return samples_per_us_ * 1e6 / static_cast<double>(fft_.length()); }
    /// Mean power in a bin that white noise of variance 1 gives.
    double white_power() const { return white_power_; }
    /// Place of a time after sync, in samples of an averaged line.
    double place(double us) const { return (us + lead_us) * samples_per_us_; }
    /// A line's luminance smoothed by the Gaussian that chrominance is read by.
    std::vector<double> smooth(const AveragedLine& line) const;
    /// How much of a line's power near a frequency is the same from frame to frame: 1 but for what the laying of lines
    /// on each other loses, 0 for what comes at another phase each time. @param noise_variance  of one sample
    double steadiness(const AveragedLine& line, double hz, double beside_hz, double noise_variance) const;
    /// What the interpolation between samples leaves of a frequency, the mean over all fractions of a sample.
    static double interpolation_response(double cycles_per_sample);

private:
    bool align(const VideoLine& line, const SampleWindow& window);
    void add_chroma(AveragedLine& average);
    void add_power(AveragedLine& average);

    FieldLayout layout_;
    double samples_per_us_, cycles_per_sample_;
    std::size_t length_;
    dsp::RealFft fft_;
    std::vector<float> window_;
    double white_power_ = 0;
    std::vector<double> gaussian_;
    std::vector<float> gaussian_taps_;          ///< the same, filled up for the filter
    std::vector<std::complex<float>> carrier_;  ///< what turns the subcarrier to rest, at each sample of a line
    std::map<int, AveragedLine> lines_;
    std::vector<float> row_, piece_, turned_real_, turned_imaginary_, real_, imaginary_;
    std::vector<std::complex<float>> spectrum_;
};

}  // namespace guardband::measure
