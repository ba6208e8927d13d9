#pragma once

#include <array>
#include <complex>
#include <optional>
#include <vector>

#include "measure/waveform/colour_system.h"
#include "measure/waveform/line_clock.h"
#include "measure/waveform/phasor.h"
#include "measure/waveform/tally.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// `subcarrier_frequency`, `burst_start`, `burst_cycles`, `burst_amplitude`, `burst_swing`, `subcarrier_to_sync_phase`
/// of systems whose burst goes on from line to line.
///
/// Method: the burst of each line is read against a carrier that runs through the whole recording. Frequency: the mean
/// turn from one line to the one after the next, between which PAL's burst does not swing. Start and number of cycles:
/// half-amplitude points of the envelope, the mean over lines turned to one phase and laid on their syncs' leading
/// edges, after a Gaussian of 0.1 µs, which leaves the half-amplitude points of a symmetrical rise where they are.
/// Phase to sync: the angle of the subcarrier sin(2πft) at the leading edge of line 1 of the first field (525 lines: of
/// line 4), of the U axis for PAL, of the burst for NTSC, folded to ± 90° (PAL, where frames follow each other in steps
/// of 90°: to ± 45°).
class ColourBurst {
public:
    /// @param finding  with a colour that is not SECAM   @param blanking_end  lines of a field that are left out
    ColourBurst(const ColourFinding& finding, double rate_hz, int blanking_end);

    void see_line(const VideoLine& line, const SampleWindow& window);
    /// @param line_hz  measured   @param mv_per_unit  of the samples' unit; 0 if it is not known
    void finish(quantity::Figures& figures, double line_hz, double mv_per_unit) const;

private:
    struct Read {
        std::int64_t number = -10;
        std::complex<double> burst;
    };
    struct Envelope {
        double start_us = 0, end_us = 0, height = 0;
    };

    std::optional<std::complex<double>> read(const VideoLine& line, const SampleWindow& window) const;
    void compare_with_earlier(const Read& now);
    void add_envelope(const VideoLine& line, const SampleWindow& window, std::complex<double> burst);
    void add_phase_to_sync(const VideoLine& line, const Read& now);
    std::optional<Envelope> envelope() const;
    quantity::Figure frequency(double line_hz) const;
    quantity::Figure phase_to_sync() const;

    ColourFinding finding_;
    double rate_hz_;
    int blanking_end_;
    PhasorReader reader_;
    std::vector<std::complex<float>> envelope_taps_;
    std::array<Read, 3> earlier_;
    std::size_t next_ = 0;
    Tally amplitude_;
    std::complex<double> two_lines_on_ = 0, swing_[2] = {0, 0}, phase_ = 0;
    double two_lines_norm_ = 0;
    std::int64_t pairs_ = 0, phases_ = 0, seen_ = 0, drawn_ = 0;
    std::vector<std::complex<double>> drawing_;  ///< sums of the envelope, sample by sample after the leading edge
};

/// SECAM: `subcarrier_red_frequency`, `subcarrier_blue_frequency`, `burst_amplitude`: what the back porch shows once
/// the subcarrier has settled there. Frequency: the mean turn between two halves of 1.1 µs, good to some hundred hertz.
class RestCarriers {
public:
    RestCarriers(const ColourFinding& finding, double rate_hz, int blanking_end);
    void see_line(const VideoLine& line, const SampleWindow& window);
    void finish(quantity::Figures& figures, double mv_per_unit) const;

private:
    double rate_hz_;
    int blanking_end_;
    int half_;  ///< samples in half of the piece
    PhasorReader reader_;
    double middle_hz_;
    std::complex<double> turns_[2] = {0, 0};
    double norms_[2] = {0, 0};
    std::int64_t lines_[2] = {0, 0};
    Tally amplitude_[2];
};

}  // namespace guardband::measure
