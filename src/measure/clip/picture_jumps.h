#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "measure/clip/profile_shift.h"
#include "measure/clip_measurement.h"
#include "measure/frame_clock.h"
#include "measure/picture_gaps.h"

namespace guardband::measure {

/// Frames that the pictures show to be missing although the time stamps close up; `missing_frames` takes them from
/// here.
///
/// Method: the movement of the top field from frame to frame, piece by piece of the picture, across and along it. Where
/// movement is steady for two frames or more on either side and between them n + 1 times as large, n frames are
/// missing, if three quarters of the pieces that move, and at least three, say so, and none goes on as before; and no
/// more pieces than these are lost at the frame, though they can be followed before and after it, as at a cut, or move
/// on, if unsteadily. Where the top field jumps the bottom field is asked too: what is drawn in whole samples steps in
/// one frame by more than in the next, but in another frame in the other field. A jump that makes up for repeated
/// frames before it is none.
///
/// Scatter: with noise of 30 dB a movement of a pixel per frame is known to 0.1 pixel. Can't see: gaps in still
/// pictures, in movement below 0.3 pixel per frame or that isn't steady, within two frames of a cut, of another gap or
/// of the clip's ends, of more than eight frames; of less than a frame. Can't tell a gap from a jump cut that happens
/// to fit, nor from an uneven step of what is drawn in whole samples, frame by frame.
class PictureJumps final : public ClipMeasurement, public PictureGaps {
public:
    explicit PictureJumps(const ClipContext& context) : clock_(context.info.time_base) {}
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures&, std::vector<quantity::Event>&) override {}  // the figure is that of the time stamps

    std::span<const PictureGap> gaps() const override { return gaps_; }

private:
    static constexpr std::int64_t ring_size = 16;

    using Movements = std::array<std::optional<ProfileShift>, ring_size>;  ///< by position modulo `ring_size`

    /// A piece of the picture and its movements in one direction.
    struct Piece {
        std::vector<float> now, before;  ///< of the top field
        Movements moved;
        std::vector<float> lower_now, lower_before;  ///< of the bottom field, as they are read
        Movements lower_moved;                       ///< only where the top field leaps
    };

    /// By how many frames' worth of movement a frame goes too far.
    struct Jump {
        double frames, error;
    };

    void read_columns(const FrameFeatures& features);
    void read_rows(const Grid<std::uint32_t>& sums);
    void follow();
    bool leaps(const Piece& piece) const;
    void follow_lower();
    ProfileMatcher& matcher_of(std::size_t piece) { return piece < across_pieces_ ? across_ : along_; }
    void judge(std::int64_t position);
    const std::optional<ProfileShift>& moved(const Piece& piece, std::int64_t position) const {
        return piece.moved[static_cast<std::size_t>(position % ring_size)];
    }
    /// As one piece has it; nothing if it doesn't move steadily around the frame.
    std::optional<Jump> jump_in(const Piece& piece, std::int64_t position) const;
    bool is_lost(const Piece& piece, std::int64_t position) const;
    bool goes_on(const Piece& piece, std::int64_t position) const;

    std::vector<Piece> pieces_;
    std::size_t across_pieces_ = 0;  ///< the first of them, which move across the picture
    std::array<std::int64_t, ring_size> frames_{};
    std::array<double, ring_size> times_s_{};
    FrameClock clock_;
    std::int64_t seen_ = 0;  ///< positions: frames seen
    std::int64_t last_gap_ = -ring_size;
    std::vector<Jump> jumps_;  ///< of the frame under judgement
    std::vector<float> ready_, lower_now_, lower_before_;
    ProfileMatcher across_{72}, along_{32};
    std::vector<PictureGap> gaps_;
};

}  // namespace guardband::measure
