#pragma once

#include <complex>
#include <vector>

#include "dsp/fft.h"
#include "measure/clip_sound/sound_measurement.h"

namespace guardband::measure {

/// `channel_delay` (µs, how much later the second channel is) and `channel_correlation` (−1 … 1, at no delay) of the
/// first two channels. A head whose gap stands askew delays one track against the other.
///
/// Method: cross spectra of pieces of 4096 samples, added up over the clip; the delay is where their phases agree best,
/// each frequency weighed by what it tells (maximum likelihood; Knapp and Carter, The generalized correlation method
/// for estimation of time delay, 1976). Bias: below a hundredth of a sample; scatter as the uncertainty says, down to
/// the rounding. Looked for up to 2 ms. Stereo whose sides have nothing in common gives none.
class ChannelPair final : public SoundMeasurement {
public:
    explicit ChannelPair(const ClipContext& context);

    void hear(const media::SoundBlock& block) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    void take_piece();
    quantity::Figure delay() const;
    quantity::Figure correlation() const;
    std::string reason() const;

    dsp::RealFft fft_;
    std::vector<float> window_, first_, second_;
    std::vector<std::complex<float>> spectrum_[2];
    std::vector<double> power_[2];
    std::vector<std::complex<double>> cross_;
    double sum_[2] = {}, squares_[2] = {}, product_ = 0;
    std::int64_t samples_ = 0, pieces_ = 0;
};

}  // namespace guardband::measure
