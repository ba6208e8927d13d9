#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>
#include <vector>

namespace guardband::measure {

/// Finds where the picture of a tape jumps up or down, and tells that from a camera that is shaken.
///
/// Method: the upper field lies by two rows or more elsewhere than the movement of the frames before lets expect, and
/// doesn't go on by as much. A tape's picture jumps between two fields, as a whole, and the scene knows nothing of it:
/// so in the frames around the jump the fields of both parities move as they did before, or by the jump, or back by it;
/// or each field lies elsewhere than those beside it. A camera that is struck swings out through all places between, by
/// other amounts each time, in five fields or more; and what begins to move, as titles do, does so within a field.
///
/// Two finders, one of which is given the lower fields as the upper ones, see those of a single field, too.
///
/// Can't see: jumps within seven frames of a cut or of the clip's beginning, or right before a cut or its end. Can't
/// tell from a tape's: a camera that is moved up or down within one field and then stands as it did before.
class VerticalJumps {
public:
    struct Jump {
        std::int64_t frame = 0;
        double time_s = 0, rows = 0;  ///< downwards, field rows
    };

    /// How far the fields of a frame lie below those of the frame before, field rows; nothing where that isn't known.
    struct Shifts {
        std::optional<double> upper, lower;
    };

    /// What the frames before let expect of the next upper field.
    struct Expected {
        double rows = 0;     ///< by which it should lie below the one before
        double scatter = 0;  ///< of that
    };
    /// Nothing unless seven frames before could be followed.
    std::optional<Expected> expected() const;
    /// Whether an upper field lies far from where it should.
    static bool stands_out(double rows, const Expected& expected);

    /// Whether the next frame decides on a jump: only then is the order of its fields asked for.
    bool decides_next() const { return !candidates_.empty() && candidates_.front().position + after == count_; }

    /// The next frame.
    /// @param jumps        its upper field stands out, and nearly all of the picture goes with it
    /// @param lower_first  of the two fields of a frame, as far as that is known; counts if this frame decides
    void add(const Shifts& shifts, bool jumps, bool lower_first, std::int64_t frame, double time_s);

    /// Those that were found since this was last called.
    std::vector<Jump> take();

private:
    static constexpr std::size_t frames_before = 7;                                   ///< to know the movement by
    static constexpr std::size_t before = 2, after = 3, around = before + 1 + after;  ///< frames
    static constexpr std::size_t fewest_around = 5;  ///< that must be known for fields to be compared one by one

    /// What may be one; the frames after it tell.
    struct Candidate {
        std::size_t position = 0;
        Jump jump;
        Expected expected;
    };

    const Shifts& at(std::size_t position) const { return last_[position % around]; }
    bool is_tape_s(const Candidate& candidate, bool lower_first) const;
    bool is_apart(const Candidate& candidate) const;
    bool is_ragged(const Candidate& candidate, bool lower_first) const;
    static bool fits(double off, const Candidate& candidate);

    std::vector<double> upper_;  ///< shifts of the last upper fields
    std::array<Shifts, around> last_;
    std::size_t count_ = 0;
    std::deque<Candidate> candidates_;
    std::vector<Jump> found_;
};

}  // namespace guardband::measure
