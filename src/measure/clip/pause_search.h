#pragma once

#include <cstdint>
#include <vector>

#include "measure/clip/field_changes.h"

namespace guardband::measure {

/// Finds fields of one parity in which what moves before and after pauses.
///
/// A repeat of up to four fields is found by its neighbours: where both the last change before it and the first
/// after it stand out, nothing changes in the run, or far less, and nothing else moves in the picture meanwhile. An
/// object that turns round shows the same dip, but its change grows with the square of the time from the turn; and
/// a flash has neighbours that don't move. So fields further out must move too, and not ever more; and what is left
/// in the run must be noise, not a part of the motion around it; and a field after it lies one step from the one
/// before it, not the way of both. Where steps are so large that all of the picture changes as much as it can, none
/// of that tells; so hardly a block that moves around the run may do so in it. Noise is as good as motion here: it
/// never pauses, except in an exact copy. Bands of noise across the picture say nothing either way.
class PauseSearch {
public:
    static constexpr std::int64_t longest_run = 4;
    static constexpr int look_out = 3;  ///< how far to look outwards for fields that move
    /// Fields after a position that are needed to judge it.
    static constexpr std::int64_t look_ahead = longest_run + look_out;

    /// @param changes  outlive this   @param is_lossy  the codec adds noise where there is detail
    PauseSearch(const FieldChanges& changes, bool is_lossy) : changes_(changes), is_lossy_(is_lossy) {}

    /// Length of the run of repeats that begins at a position; 0 if none does.
    /// @param longest_seen  of the clip's runs so far; what ends the clip may be as long
    std::int64_t run_length(std::int64_t position, std::int64_t longest_seen);

    /// Of the run that was found last: blocks that move before and after it, not in it.
    const std::vector<std::uint32_t>& moving() const { return moving_; }
    /// And the largest change in it, block by block.
    const std::vector<float>& largest() const { return run_; }

private:
    /// How strongly a run must differ from its neighbours.
    struct Demand {
        float pause;         ///< change before and after, over that in the run
        double least_share;  ///< of the blocks, that must pause so
        bool even;           ///< the run's changes must be alike all over the picture, as noise is
    };

    /// What the fields beyond a run's neighbour do.
    struct Outwards {
        int movers = 0;      ///< fields in which the blocks that pause in the run move
        bool grows = false;  ///< the nearest of them moves much more than the run's neighbour
        bool edge = false;   ///< the clip begins or ends within sight
    };

    std::int64_t run_length(std::int64_t position, const Demand& demand, std::int64_t longest_seen);
    bool extends(std::int64_t position, std::int64_t length);
    bool pauses(std::int64_t before, std::int64_t beside, std::int64_t after);
    bool still_moves(std::int64_t before, std::int64_t beside, std::int64_t after, float level) const;
    bool goes_on_slowly(std::int64_t before, std::int64_t beside);
    bool is_one_step(std::int64_t position, std::int64_t step) const;
    bool brightness_explains(std::int64_t before, std::int64_t beside, std::int64_t after) const;
    bool surroundings_move(std::int64_t before, std::int64_t after);
    Outwards look_outwards(std::int64_t from, int direction);

    const FieldChanges& changes_;
    bool is_lossy_;
    Demand demand_{};
    std::vector<float> run_, scratch_;
    std::vector<std::uint32_t> moving_;
};

}  // namespace guardband::measure
