#pragma once

#include <array>
#include <complex>
#include <cstdint>
#include <vector>

#include "dsp/fft.h"
#include "measure/clip_measurement.h"

namespace guardband::measure {

/// `luma_bandwidth`, MHz: where the channel that the pictures came through halves the amplitude of luma.
///
/// Method: the mean cross spectrum of pieces of 256 samples of one line and the next of its field, so that noise, which
/// they don't share, drops out but for its scatter; `fit_roll_off` takes from it the place where it falls more steeply
/// than pictures do. Each piece of some contrast counts alike, however much that is. A spectrum that only fades into
/// what is left of the noise has no roll-off to be seen: the figure then says where it drowns. Bias and scatter: bias
/// below 1 % and RMS 1.5 % from 2 to 3.5 MHz, 2 and 2.5 % from there to 5 MHz, where the channel falls within a third
/// of its frequency and pictures stand at least 10 dB above the floor there, in half a second of textured pictures, and
/// 1 % in 3 s; up to 3 % of it, and seldom 5, is a bias of one sign where a scene's own spectrum falls or rises against
/// the law as the channel would. Needs detail in the pictures beyond the roll-off. Can't tell: a channel that falls as
/// gently as a lens does (a Gaussian; mostly one of 36 dB an octave too); a roll-off within a tenth of the highest
/// frequency that the clip's sampling holds.
///
/// DV rounds fine detail towards nothing, the more so the weaker it is: the figure is 1 to 3 % too low, in 1/f texture
/// up to 7, and from 4.7 MHz on nothing is told. What lines of one block share there is their rounding's error; lines
/// of two blocks don't share it and show the roll-off, but 4 to 8 % too low (own measurement).
class LumaBandwidth final : public ClipMeasurement {
public:
    explicit LumaBandwidth(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    void transform(const media::Frame& frame, int y, int first, std::vector<std::complex<float>>& out);
    void see_pieces(const media::Frame& frame, int y, int first);
    void add_pair();
    std::vector<double> shared_power() const;
    quantity::Figure figure() const;

    bool usable_;
    double ns_per_px_;
    dsp::RealFft transform_;
    std::vector<float> window_, piece_;
    std::array<std::vector<std::complex<float>>, 2> spectra_;  ///< of a line and the next of its field
    std::vector<double> shared_, all_;  ///< power that two lines share, and all of it: sums over pieces
    std::int64_t frames_ = 0, pieces_ = 0;
};

}  // namespace guardband::measure
