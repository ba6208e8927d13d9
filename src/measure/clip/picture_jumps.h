#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "measure/clip/profile_shift.h"
#include "measure/clip_measurement.h"
#include "measure/picture_gaps.h"

namespace guardband::measure {

/// Frames that the pictures show to be missing although the time stamps close up; `missing_frames` takes them from here.
///
/// Method: the movement of the top field from frame to frame, across in bands of 48 of its rows and up or down in five strips. Where movement
/// is steady for two frames or more on either side and between them n + 1 times as large, n frames are missing, if all bands that move say
/// so and at least two do. A jump that makes up for repeated frames before it is none.
///
/// Scatter: with noise of 30 dB a movement of a pixel per frame is known to 0.1 pixel. Can't see: gaps in still pictures, in movement below 0.3
/// pixel per frame or that isn't steady, within two frames of a cut, of another gap or of the clip's ends, of more than eight frames; of less than a frame.
/// Can't tell a gap from a jump cut that happens to fit.
class PictureJumps final : public ClipMeasurement, public PictureGaps {
public:
    explicit PictureJumps(const ClipContext&) {}
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures&, std::vector<quantity::Event>&) override {}  // the figure is that of the time stamps

    std::span<const PictureGap> gaps() const override { return gaps_; }

private:
    static constexpr std::int64_t ring_size = 16;

    /// A band or strip of the picture and its movements, by position modulo `ring_size`.
    struct Band {
        std::vector<float> now, before;
        std::array<std::optional<ProfileShift>, ring_size> moved;
    };

    struct Jump {
        double frames, error;
    };

    void follow(std::size_t band, std::span<const float> profile, ProfileMatcher& matcher);
    void follow_columns(const FrameFeatures& features);
    void follow_rows(const FrameFeatures& features);
    void judge(std::int64_t position);
    const std::optional<ProfileShift>& moved(const Band& band, std::int64_t position) const {
        return band.moved[static_cast<std::size_t>(position % ring_size)];
    }
    /// By how many frames' worth of movement a frame goes too far, as one band has it; nothing if the band doesn't move steadily around it.
    std::optional<Jump> jump_in(const Band& band, std::int64_t position) const;

    std::vector<Band> bands_;
    std::array<std::int64_t, ring_size> frames_{};
    std::int64_t seen_ = 0;  ///< positions: frames seen
    std::int64_t last_gap_ = -ring_size;
    std::vector<Jump> jumps_;  ///< of the frame under judgement
    std::vector<float> profile_;
    ProfileMatcher across_{80}, along_{32};
    std::vector<PictureGap> gaps_;
};

}  // namespace guardband::measure
