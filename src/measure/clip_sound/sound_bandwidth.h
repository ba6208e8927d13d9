#pragma once

#include <memory>
#include <vector>

#include "dsp/fft.h"
#include "dsp/level_histogram.h"
#include "measure/clip_sound/sound_measurement.h"

namespace guardband::measure {

/// `sound_bandwidth` (kHz): up to where the programme reaches above the noise.
///
/// Method: the level of each band of some 190 Hz over time. Where programme is, loud and quiet moments differ by more
/// than noise does by itself; the highest frequency below which that is so is the bandwidth. Sound that never changes
/// is told from its noise by the step in its spectrum, if there is one of 15 dB, and ends half way down it, 20 dB at
/// most. Bias: within a band for programme that
/// ends steeply and 20 dB above the noise; a gentle fall is followed down to where the noise covers it, so that the
/// figure is not a -3 dB point. Needs a second of sound.
class SoundBandwidth final : public SoundMeasurement {
public:
    explicit SoundBandwidth(const ClipContext& context);

    void hear(const media::SoundBlock& block) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    void take_piece();
    quantity::Figure bandwidth() const;

    dsp::RealFft fft_;
    std::vector<float> window_, waiting_;
    std::vector<std::complex<float>> spectrum_;
    std::vector<dsp::LevelHistogram> bands_;
    std::int64_t pieces_ = 0;
};

}  // namespace guardband::measure
