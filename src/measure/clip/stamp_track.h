#pragma once

#include <cstdint>
#include <vector>

#include "measure/clip/new_row.h"

namespace guardband::measure {

/// One stamp against the row. Times in ticks.
struct StampPlace {
    std::int64_t frame = 0;
    double at_ticks = 0;      ///< where the row expects it, from the first frame's place on
    double off_ticks = 0;     ///< how far the stamp lies behind that
    double period_ticks = 0;  ///< of the row, as followed so far
    bool not_after = false;   ///< the stamp isn't later than the one before it
};

/// What `StampTrack` finds, told in the order of frames.
class StampListener {
public:
    virtual ~StampListener() = default;

    /// A stamp that lies where it can: within half a period of its place in the row.
    /// @param slot  its place, missing frames counted   @param ticks  its stamp, from a fixed origin
    /// @param segment  changes where the row is interrupted for an unknown time
    virtual void placed(const StampPlace& place, double slot, double ticks, std::int64_t segment) = 0;

    /// A stamp that belongs to no row: before and after it the row goes on as if it weren't there.
    virtual void astray(const StampPlace& place) = 0;

    /// Room for `frames` frames lies before this one.
    virtual void gap(const StampPlace& first_after, std::int64_t frames) = 0;

    /// The row goes on from here at another place: back, or forth beyond what a pause explains.
    virtual void restart(const StampPlace& first_after) = 0;
};

/// Puts the stamps of a clip in a row of equal steps, one frame after another, and tells stamps that are off from
/// frames that are missing: after a missing frame all later stamps stay late, after a wrong stamp they don't. Looks
/// ahead 25 frames for that, so that up to 25 wrong stamps in a row are seen as such. Follows the row's period and
/// phase with a filter that grows from a least-squares line over all frames to one over the last 64 (an alpha-beta
/// filter), and lets no stamp pull it by more than a tenth of a period.
class StampTrack {
public:
    explicit StampTrack(StampListener& listener) : listener_(listener) {}

    /// Frames in order; those without a stamp are left out.
    void see(std::int64_t frame, std::int64_t pts);

    /// No more frames: decides on what was pending.
    void end();

    /// Stamps seen, and those of them that have found a place.
    std::int64_t seen() const { return seen_; }
    std::int64_t placed() const { return placed_; }

private:
    struct Stamp {
        std::int64_t frame = 0;
        double ticks = 0;
        bool not_after = false;
    };

    void begin();
    void anchor_row(const std::vector<Stamp>& early);
    void judge(const Stamp& stamp);
    void place(const Stamp& stamp, double off_periods);
    void place_or_lead_astray(const Stamp& stamp);
    void pull(std::int64_t frame, double off_periods);
    void watch_for_shift(double off_periods);
    void settle();
    void decide(bool at_end);
    void follow(const NewRow& row);
    void shift(const Stamp& first, double off_periods);

    double expected(std::int64_t frame) const;
    double off(const Stamp& stamp) const;
    StampPlace place_of(const Stamp& stamp) const;

    StampListener& listener_;
    std::vector<std::int64_t> early_frames_, early_pts_;  ///< until there are enough to begin
    bool begun_ = false;
    std::int64_t origin_ = 0;  ///< stamp that counts as tick 0
    std::int64_t seen_ = 0, placed_ = 0;
    double last_ticks_ = 0;  ///< of the stamp before

    // The row: frame `anchor_frame_` is expected at `anchor_ticks_`, later ones each a period later.
    std::int64_t anchor_frame_ = 0;
    double anchor_ticks_ = 0, period_ = 0, start_ticks_ = 0;
    std::int64_t missing_ = 0;  ///< frames left out so far: a frame's slot is its number and these
    std::int64_t segment_ = 0;
    double pulls_ = 8;  ///< stamps that have pulled the row; begins as if some had, since the step is known

    std::vector<Stamp> pending_;  ///< a first stamp that is off, and those after it
    int in_place_ = 0;            ///< how many of the last pending ones are in place

    // A run of stamps that all lie off to one side.
    std::int64_t one_sided_ = 0;
    double one_sided_sum_ = 0;
    double period_before_ = 0;  ///< the run
};

}  // namespace guardband::measure
