#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "measure/clip/movement_memory.h"
#include "measure/clip/noise_rows.h"
#include "measure/features.h"

namespace guardband::measure {

/// A run of fields of one parity, in successive frames, each of which shows what the field before it in that parity
/// showed.
struct RepeatRun {
    std::int64_t first_frame = 0, frames = 0;
    double time_s = 0;        ///< of the first
    bool catches_up = false;  ///< what moved before and goes on moving jumps to where it would have been
    float detail =
        0;  ///< combing of the quietest cells of the frame; tells a frozen picture with its noise from a drawn one
    bool exact = false;  ///< equal sample for sample
    /// Whether what moves goes on as around a repeat, not as where motion turns round; if the run's parity comes first
    /// in its frames, and if it comes second.
    std::array<bool, 2> goes_on{true, true};
};

/// How the fields of a clip change when nothing in them moves, and how much their quietest parts comb.
struct QuietLevel {
    std::int64_t fields = 0;  ///< that showed it
    double change = 0;        ///< mean over those fields of the change of a quiet block, squared codes
    double detail = 0;
};

/// Finds repeated fields of one parity in the changes from each field to the one before, block by block.
///
/// A repeat of up to four fields is found by its neighbours: where both the last change before it and the first after
/// it stand out, nothing changes in the run, or far less, and nothing else moves in the picture meanwhile. An object
/// that turns round shows the same dip, but its change grows with the square of the time from the turn; and a flash has
/// neighbours that don't move. So fields further out must move too, and not ever more; and what is left in the run must
/// be noise, not a part of the motion around it; and a field after it lies one step from the one before it, not the way
/// of both. Where steps are so large that all of the picture changes as much as it can, none of that tells; so hardly a
/// block that moves around the run may do so in it. A camera in a hand does all of this where it turns round; but what
/// went to one side before then goes to the other after; and the fields of the other parity, half a step away in time,
/// slow down with it, while those beside a repeat move as much as ever or rest, too. Noise is as good as motion here:
/// it never pauses, except in an exact copy. Bands of noise across the picture say nothing either way.
///
/// Exact copies that are longer, or have no neighbours, are kept as `freezes` for the user to judge.
class RepeatFinder {
public:
    /// @param parity  whose fields this finder sees   @param is_lossy  the codec adds noise where there is detail
    RepeatFinder(Parity parity, bool is_lossy) : parity_(static_cast<std::size_t>(parity)), is_lossy_(is_lossy) {}

    /// Shows the next frame. @param other  the finder of the other parity, which may lag behind by this frame
    void add(const FrameFeatures& features, std::int64_t frame, double time_s, const RepeatFinder& other);
    /// No more frames.
    void end(const RepeatFinder& other);

    /// Bounded in number; `count` isn't.
    const std::vector<RepeatRun>& repeats() const { return repeats_; }
    std::int64_t count() const { return count_; }
    const std::vector<RepeatRun>& freezes() const { return freezes_; }
    const QuietLevel& quiet() const { return quiet_; }
    /// Fields that differ from the one before.
    std::int64_t changed() const { return changed_; }

private:
    struct Change {
        std::int64_t frame = 0;
        double time_s = 0;
        bool identical = false, repeated = false, even = false;
        float median = 0, detail = 0, lively = 0;
        std::vector<float> blocks, cells;  ///< `FrameFeatures::change` and `steady_change`
        std::vector<float> over_two;       ///< `FrameFeatures::change_over_two`; empty where that is
        std::vector<bool> noisy;           ///< rows of blocks in which a band of noise lies or lay before, or beside
    };

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

    static constexpr std::size_t ring_size = 16;

    Change& at(std::int64_t position) { return ring_[static_cast<std::size_t>(position) % ring_size]; }
    const Change& at(std::int64_t position) const { return ring_[static_cast<std::size_t>(position) % ring_size]; }
    bool holds(std::int64_t position) const {
        return position >= 0 && position < added_ && position + static_cast<std::int64_t>(ring_size) > added_;
    }
    void note_bands(const FrameFeatures& features, Change& change);
    void sample_blocks(const Change& change);
    void note_quiet(const FrameFeatures& features, const Change& change);
    void decide(std::int64_t position, const RepeatFinder& other);
    std::int64_t run_length(std::int64_t position, const Demand& demand);
    bool still_moves(std::int64_t before, std::int64_t beside, std::int64_t after, float level) const;
    bool goes_on_slowly(std::int64_t before, std::int64_t beside);
    bool is_one_step(std::int64_t position, std::int64_t step) const;
    bool extends(std::int64_t position, std::int64_t length);
    bool pauses(std::int64_t before, std::int64_t beside, std::int64_t after);
    bool brightness_explains(std::int64_t before, std::int64_t beside, std::int64_t after) const;
    bool surroundings_move(std::int64_t before, std::int64_t after);
    Outwards look_outwards(std::int64_t from, int direction);
    RepeatRun describe(std::int64_t position, std::int64_t length, const RepeatFinder& other);
    std::vector<bool> noisy_around(std::int64_t position, std::int64_t length, const RepeatFinder& other) const;
    std::array<bool, 2> goes_on(std::int64_t position, std::int64_t length, const RepeatFinder& other) const;
    void end_freeze();
    bool catches_up(std::int64_t after) const;

    std::size_t parity_;
    bool is_lossy_;
    std::vector<Change> ring_{ring_size};
    std::int64_t added_ = 0, decided_ = 0;  ///< positions: changes seen and judged
    Demand demand_{};
    int width_ = 0, cells_width_ = 0;  ///< of the grids
    NoiseRows noise_rows_;
    MovementMemory movement_;
    std::vector<bool> noisy_before_;
    std::vector<float> run_, scratch_;   ///< largest change in the run, block by block
    std::vector<std::uint32_t> moving_;  ///< blocks that move before and after the run, not in it
    RepeatRun freeze_;
    float before_freeze_ = 0;  ///< `lively` of the two fields before it, if alike; else 0
    std::vector<RepeatRun> repeats_, freezes_;
    std::int64_t count_ = 0, changed_ = 0, longest_ = 0;
    std::int64_t first_frame_ = 0;  ///< of those that have one before them
    QuietLevel quiet_;
};

}  // namespace guardband::measure
