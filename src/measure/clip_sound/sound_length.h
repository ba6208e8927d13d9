#pragma once

#include <deque>
#include <optional>

#include "measure/clip_sound/sound_measurement.h"
#include "measure/event_log.h"

namespace guardband::measure {

/// `sound_gaps` and `sound_picture_difference` (ms, by how much the sound is longer than the pictures).
///
/// A gap is a stretch that the file's time stamps leave out, or one of 2 ms to 2 s in which all channels are exactly 0
/// between sound above -60 dBFS: sound that was lost, not a pause, which has its noise. The difference is that of the
/// two lengths by the file's time stamps, the last frame and the last sample to their ends; it comes from a sound clock
/// that was not locked to the pictures', from lost samples or from cutting. Claims: gaps counted exactly, the
/// difference within the rounding of the container's stamps.
class SoundLength final : public ClipMeasurement {
public:
    explicit SoundLength(const ClipContext& context) : context_(context) {}

    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void hear(const media::SoundBlock& block) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    void look_at_stamp(const media::SoundBlock& block);
    void look_for_silence(const media::SoundBlock& block);
    void end_of_silence(std::int64_t at);
    quantity::Figure difference() const;

    const ClipContext& context_;
    std::optional<double> first_frame_s_, last_frame_s_, first_sound_s_, sound_end_s_;
    std::int64_t samples_ = 0;
    std::int64_t silent_since_ = -1;  ///< sample at which the run of nothing began; −1: none
    float level_ = 0;                 ///< largest magnitude, fading within some ms
    bool began_loud_ = false, has_begun_ = false;
    EventLog lost_{0}, silences_{0};
};

}  // namespace guardband::measure
