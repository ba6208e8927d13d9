#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "measure/clip_measurement.h"
#include "measure/frame_clock.h"

namespace guardband::measure {

/// `tracking_band`, share: lines that a band of noise across the picture covers, of all lines of all frames, as where
/// the head leaves its track. Events `noise band` give each stretch: how high, where it began and ended, how it drifts;
/// `picture loss` stretches in which noise covers all of the picture.
///
/// Method: `FrameFeatures::texture`. Noise makes a row as unlike the next one of its field as that one's variance can
/// make it, over the whole width, differs from frame to frame, and is at least `strongest_tape_noise` in RMS and much
/// stronger than what is the same of the rest of the picture. Detail of pictures goes on from row to row, and a noisy
/// tape is so everywhere. A band must be seen in two frames on end; the lowest 12 lines of a field, where heads switch,
/// count only as part of a larger one.
///
/// Resolution: 8 lines of a field. Can't see: bands of less than 16 lines (those are dropouts), noise weaker than
/// `strongest_tape_noise`, bands that don't reach over the width.
class NoiseBand final : public ClipMeasurement {
public:
    static constexpr double strongest_tape_noise = 12;  ///< 8-bit codes, RMS

    explicit NoiseBand(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    /// Where noise lies in a frame, shares of the height.
    struct Band {
        double top = 0, height = 0;
    };
    /// A band from its first frame to its last.
    struct Stretch {
        std::int64_t frame = 0, last_frame = 0, frames = 0;
        double time_s = 0, end_s = 0;
        double height_sum = 0, last_centre = 0;
        double place = 0;  ///< of the centre, heights, downwards; beyond 1 where it rolled round
        double sum_t = 0, sum_tt = 0, sum_p = 0, sum_tp = 0;  ///< of times and places, for its drift
    };

    void mark_rows(const FrameFeatures& features);
    bool is_noise(const FrameFeatures& features, std::size_t parity, int row, double usual) const;
    Band find_band() const;
    void follow(const Band& band, std::int64_t frame, double time_s);
    void end_stretch();
    static std::string band_text(const Stretch& s, double height);

    FrameClock clock_;
    double code_;  ///< of the clip, per 8-bit code
    std::vector<bool> noisy_;
    std::vector<double> unlike_;
    bool running_ = false;
    Stretch stretch_;
    std::vector<Stretch> stretches_;
    double covered_ = 0;  ///< sum over frames of the share of their lines
    std::int64_t frames_ = 0;
};

}  // namespace guardband::measure
