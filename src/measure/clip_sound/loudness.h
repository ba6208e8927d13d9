#pragma once

#include <memory>

#include "measure/clip_sound/sound_measurement.h"

namespace guardband::measure {

/// `loudness` (LUFS, the programme's gated loudness of ITU-R BS.1770 and EBU R 128) and `true_peak` (dBTP, of the
/// channel with the highest), by libebur128. Two channels count as left and right, one as left alone. The loudness of
/// each block of 0.4 s is kept to 0.1 dB, so that memory stays the same whatever the length; that is the larger part of
/// the uncertainty. The peak is looked for between the samples by fourfold interpolation, twofold from 96 kHz on: it
/// reads up to 0.6 dB low at the top of the band (BS.1770, annex 2).
class Loudness final : public SoundMeasurement {
public:
    explicit Loudness(const ClipContext& context);
    ~Loudness() override;

    void hear(const media::SoundBlock& block) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace guardband::measure
