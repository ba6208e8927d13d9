#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>
#include <vector>

#include "measure/clip/field_follower.h"
#include "measure/clip/roll_finder.h"
#include "measure/clip/vertical_jumps.h"
#include "measure/clip_measurement.h"
#include "measure/event_log.h"
#include "measure/frame_clock.h"

namespace guardband::measure {

/// `vertical_jitter_rms`, frame lines: RMS over fields of the picture's vertical place against its trend, which is the
/// mean over the 25 fields of the same parity around it, a second; in clips of less than a second the steady movement
/// that fits best. What rolls through the frame is no jitter: such seconds don't count.
///
/// Bias: steady movement of the scene drops out; a movement that changes within a second counts, and so does half of
/// what is slower than a second. The product of what the left and the right part of the picture say takes the place of
/// the square, so that neither noise nor what moves on its own in one of them adds anything. Scatter on textured
/// pictures at 40 dB: 0.03 lines at 0.1 and at 0.4 lines, up to 0.08 where much moves on its own. Needs nine frames;
/// below two seconds few fields stand for all. Can't tell a shaking camera from a shaking tape; an offset between the
/// two parities.
///
/// Event `vertical jump`: a field lies by 4 frame lines or more, up to 24, elsewhere than the movement of the
/// frames before lets expect, and nearly all of the picture that shows it does so: things that move on their own, and
/// titles that come and go, leave the rest where it was. See `VerticalJumps` for what tells it from a camera's. Where a
/// field repeats another or frames are missing, a tilt jumps, of which those events tell. Event `vertical roll`: the
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

    /// What a field adds to the figure, rows².
    struct Waiting {
        std::int64_t frame = 0;
        double square = 0, noise = 0;
    };

    void judge(Track& track, std::int64_t frame);
    void take_up_to(std::int64_t frame);
    void take_all(const Track& track);
    void look_for_roll(const media::Frame& frame, double time_s, std::optional<double> moved);
    void add_rolls(std::vector<quantity::Event>& events) const;
    bool is_within_a_roll(std::int64_t frame) const;
    bool is_beside_a_repeat_or_gap(std::int64_t frame) const;
    bool jumps(std::size_t parity, std::optional<double> shift) const;
    void look_for_jumps(const VerticalJumps::Shifts& shifts, std::int64_t frame, double time_s);
    std::vector<Occurrence> jumps_of_both() const;

    std::array<Track, 2> tracks_;
    const ClipContext& context_;
    FrameClock clock_;
    std::array<VerticalJumps, 2> jump_finders_;  ///< of each parity, which is the upper one to its own
    std::array<EventLog, 2> jumps_{EventLog(2), EventLog(2)};
    RollFinder roll_finder_;
    std::vector<Rolling> rolls_;
    double height_rows_ = 1, last_time_s_ = 0;
    std::deque<Waiting> waiting_;
    double squares_ = 0, subtracted_ = 0;
    std::int64_t count_ = 0;
};

}  // namespace guardband::measure
