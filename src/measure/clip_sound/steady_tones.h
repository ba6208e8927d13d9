#pragma once

#include <optional>

#include "measure/clip_sound/sound_measurement.h"
#include "measure/clip_sound/steady_band.h"
#include "measure/clip_sound/steady_lines.h"

namespace guardband::measure {

/// `hum_frequency` (Hz, of the mains behind it), `hum_level` (dB below a sine at full scale, all harmonics up to 400 Hz
/// together), `line_whistle_frequency` (Hz) and `sound_speed_ratio` (played ÷ recorded speed by the whistle, else the
/// hum).
///
/// Method: spectra of pieces of 2 s, averaged by their logarithm, so that only what is there all the time stands out
/// of its neighbourhood; for hum the lines that lie on multiples of one frequency within 8 % of 50 or 60 Hz, for the
/// whistle the strongest between 15 and 16.4 kHz. Claims, for hum and whistle 10 dB above the programme in their own
/// 0.5 Hz: bias and scatter of the frequency within the uncertainty given, 10 mHz and better for steady hum and 0.1 Hz
/// for a steady whistle in 10 s; level within 0.5 dB. A whistle that flutter smears is placed by its centre of gravity.
/// Needs 4 s of sound, for the whistle a sampling rate of 34 kHz.
///
/// The ratio takes for granted that hum or whistle lie on the tape: those of the playing machine or of a monitor beside
/// it show a ratio of 1. It takes the line rate of the clip's own TV system, and of 50 and 60 Hz the nearer.
class SteadyTones final : public SoundMeasurement {
public:
    explicit SteadyTones(const ClipContext& context);

    void hear(const media::SoundBlock& block) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    std::optional<SteadyBand> low_, high_;
    std::vector<float> mono_;
    std::vector<double> mains_hz_;  ///< of the table: half of the rates of lamps
};

}  // namespace guardband::measure
