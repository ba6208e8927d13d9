#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "measure/clip/field_changes.h"
#include "measure/clip/movement_memory.h"
#include "measure/clip/pause_search.h"
#include "measure/features.h"

namespace guardband::measure {

/// A run of fields of one parity, in successive frames, each of which shows what the field before it in that parity
/// showed.
struct RepeatRun {
    std::int64_t first_frame = 0, frames = 0;
    double time_s = 0;        ///< of the first
    bool catches_up = false;  ///< what moved before and goes on moving jumps to where it would have been
    /// Combing of the quietest cells of the frame; tells a frozen picture with its noise from a drawn one.
    float detail = 0;
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
/// A repeat of up to four fields is found by its neighbours: see `PauseSearch`. A camera in a hand pauses likewise
/// where it turns round; but what went to one side before then goes to the other after, or hasn't stopped quite; and
/// the fields of the other parity, half a step away in time, slow down with it, while those beside a repeat move as
/// much as ever or rest, too.
///
/// Exact copies that are longer, or have no neighbours, are kept as `freezes` for the user to judge.
class RepeatFinder {
public:
    /// @param parity  whose fields this finder sees   @param is_lossy  the codec adds noise where there is detail
    RepeatFinder(Parity parity, bool is_lossy) : parity_(parity), changes_(parity), search_(changes_, is_lossy) {}
    RepeatFinder(const RepeatFinder&) = delete;
    RepeatFinder& operator=(const RepeatFinder&) = delete;

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
    void note_quiet(const FieldChange& change);
    void decide(std::int64_t position, const RepeatFinder& other);
    bool may_be_one_thing() const;
    RepeatRun describe(std::int64_t position, std::int64_t length, const RepeatFinder& other);
    std::vector<bool> noisy_around(std::int64_t position, std::int64_t length, const RepeatFinder& other) const;
    std::array<bool, 2> goes_on(std::int64_t position, std::int64_t length, const RepeatFinder& other) const;
    void end_freeze();
    bool catches_up(std::int64_t after) const;

    Parity parity_;
    FieldChanges changes_;
    PauseSearch search_;
    MovementMemory movement_;
    std::int64_t decided_ = 0;  ///< position: judged before it
    std::vector<float> scratch_;
    RepeatRun freeze_;
    float before_freeze_ = 0;  ///< `lively` of the two fields before it, if alike; else 0
    std::vector<RepeatRun> repeats_, freezes_;
    std::int64_t count_ = 0, changed_ = 0, longest_ = 0;
    std::int64_t first_frame_ = 0;  ///< of those that have one before them
    QuietLevel quiet_;
};

}  // namespace guardband::measure
