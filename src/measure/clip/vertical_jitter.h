#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "measure/clip/roll_finder.h"
#include "measure/clip_measurement.h"
#include "measure/event_log.h"
#include "measure/frame_clock.h"
#include "rows/shift_kernels.h"

namespace guardband::measure {

/// How far one field lies below another of the same parity, field rows: by all of the picture, and by its left and its
/// right part alone, which err by different things.
struct VerticalShift {
    double rows = 0, left_rows = 0, right_rows = 0;
    double variance = 0;  ///< of `rows`, where it stands for both parts because one shows too little; else 0
};

/// Follows the vertical place of one parity's fields to a small part of a row.
///
/// Method: rows reduced to sums over 32 samples, smoothed and differentiated down the field by five taps each; least
/// squares for the movement down and along the rows in each of 132 pieces of the picture, about a whole number of rows
/// up to ±12; the median of the pieces, so that things which move on their own don't count.
class FieldFollower {
public:
    /// The next field's shift against the one before; nothing in the first, at cuts and where no piece shows detail.
    std::optional<VerticalShift> see(const Grid<std::uint32_t>& segment_sums, std::size_t parity);

    /// Of the pieces in which it makes a difference by which of two shifts this field lies below the one before, the
    /// share that the first fits far better; 0 if there are few such pieces.
    double share_for(double rows, double other_rows) const;

    /// Slopes down the field, row by row, of the field seen last and the one before.
    std::span<const float> slopes() const { return {now_.slope.data(), now_.size}; }
    std::span<const float> slopes_before() const { return {before_.slope.data(), before_.size}; }
    int columns() const { return columns_; }

private:
    /// A field's sums, row by row, and some zeros behind them.
    struct Filtered {
        std::size_t size = 0;
        std::vector<float> smooth, slope;
    };

    void filter(const Grid<std::uint32_t>& sums, std::size_t parity);
    std::optional<VerticalShift> shift_about(int whole);
    void take_pieces(const rows::MovementSums& sums, int rows);
    float mean_difference(int whole) const;
    double misfit(int piece, double rows) const;

    int columns_ = 0, rows_ = 0;
    std::vector<float> reduced_, sums_;
    Filtered now_, before_;
    std::vector<double> pieces_;                  ///< of the whole picture
    std::array<std::vector<double>, 2> of_part_;  ///< of its left and right part
};

/// `vertical_jitter_rms`, frame lines: RMS over fields of the picture's vertical place against its trend, which is the
/// mean over the 25 fields of the same parity around it, a second.
///
/// Bias: steady movement of the scene drops out; a movement that changes within a second counts, and so does half of
/// what is slower than a second. The product of what the left and the right part of the picture say takes the place of
/// the square, so that neither noise nor what moves on its own in one of them adds anything. Scatter on textured
/// pictures at 40 dB: 0.03 lines at 0.1 and at 0.4 lines, up to 0.08 where much moves on its own. Needs nine frames;
/// below two seconds few fields stand for all. Can't tell a shaking camera from a shaking tape; an offset between the
/// two parities.
///
/// Event `vertical jump`: the upper field lies by 4 frame lines or more, up to 24, elsewhere than the movement of the
/// frames before lets expect, and nearly all of the picture that shows it does so: things that move on their own, and
/// titles that come and go, leave the rest where it was; and a tilt that begins goes on. Event `vertical roll`: the
/// picture rolls through the frame or jumps, and what leaves at one end comes in at the other; see `RollFinder`.
class VerticalJitter final : public ClipMeasurement {
public:
    explicit VerticalJitter(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    static constexpr std::size_t window = 25;

    /// Of a field by the picture's left and right part, field rows.
    struct Place {
        double left = 0, right = 0;
    };
    struct Track {
        FieldFollower follower;
        std::vector<Place> places;  ///< the last `window` of them
        Place place;
        double variance = 0;
        void restart() { places.clear(), place = {}, variance = 0; }
    };

    struct Rolling {
        std::int64_t frame = 0, last_frame = 0;
        double time_s = 0, rows = 0;
    };

    /// What may be one; the next frame tells.
    struct Jump {
        std::int64_t frame = 0;
        double time_s = 0, before = 0, rows = 0;  ///< rows a frame, before it and beyond that
    };

    void judge(Track& track);
    void look_for_roll(const media::Frame& frame, double time_s, std::optional<double> moved);
    void add_rolls(std::vector<quantity::Event>& events) const;
    bool is_within_a_roll(std::int64_t frame) const;
    void note_jump();
    void look_for_jump(const media::Frame& frame, double time_s, double rows);
    void add(const std::vector<Place>& places, std::size_t from, std::size_t to, double step_variance);

    std::array<Track, 2> tracks_;
    FrameClock clock_;
    std::vector<double> last_shifts_;  ///< of the upper field, rows per frame
    std::optional<Jump> jump_;
    EventLog jumps_{2};
    RollFinder roll_finder_;
    std::vector<Rolling> rolls_;
    double height_rows_ = 1, last_time_s_ = 0;
    double squares_ = 0, subtracted_ = 0;
    std::int64_t count_ = 0;
};

}  // namespace guardband::measure
