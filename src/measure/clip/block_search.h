#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <vector>

#include "media/clip.h"

namespace guardband::measure {

/// Reads samples of one row. @param x  may lie outside: the row's end sample then stands in
/// @param out  `count` samples in 8-bit codes
void read_codes(const media::Plane& plane, int bit_depth, int y, int x, int count, float* out);

/// A piece of a field: `samples` of each of `lines`, which are the frame's rows y, y + 2, y + 4 …
struct FieldBlock {
    static constexpr int samples = 64, lines = 8;
    int x = 0, y = 0;
};

/// How far a block lies from where the other frame shows the same: to the right, and down in lines of the field.
struct BlockShift {
    int samples = 0, lines = 0;
    friend bool operator==(const BlockShift&, const BlockShift&) = default;
};

/// Finds where the frame before shows what a block shows.
///
/// Method: least sum of absolute differences over the block's lines 0, 2, 4, 6 within ±24 samples and ±6 lines of the
/// field; places found before are tried first, and one of them is kept where no other is clearly better, so that noise
/// alone finds no place for itself. The lines between take no part: what is measured on them later has not been chosen
/// to be small.
class BlockSearch {
public:
    static constexpr int reach_samples = 24, reach_lines = 6;

    explicit BlockSearch(int bit_depth) : bit_depth_(bit_depth) {}

    /// @param block  at least the reach away from the picture's edges
    BlockShift find(const media::Plane& now, const media::Plane& before, const FieldBlock& block);
    /// As `find`, but next to a guess only: within one sample and one line.
    BlockShift refine(const media::Plane& now, const media::Plane& before, const FieldBlock& block, BlockShift guess);

    /// Sum of absolute differences at the place that was found last.
    int difference() const { return found_difference_; }

private:
    static constexpr int used_lines = FieldBlock::lines / 2;
    static constexpr int window_samples = FieldBlock::samples + 2 * reach_samples;
    static constexpr int window_lines = FieldBlock::lines + 2 * reach_lines;

    void load(const media::Plane& now, const media::Plane& before, const FieldBlock& block);
    /// Sum of absolute differences. @param enough  from here on it doesn't matter how much it is
    int difference(BlockShift shift, int enough = std::numeric_limits<int>::max()) const;
    BlockShift best_near(BlockShift around) const;
    BlockShift search() const;

    int bit_depth_;
    std::array<BlockShift, 4> known_{};
    std::size_t next_known_ = 0;
    int found_difference_ = 0;
    float least_ = 0;  ///< difference of the blocks that fit best
    std::array<std::int16_t, std::size_t{used_lines} * FieldBlock::samples> block_{};
    std::array<std::int16_t, std::size_t{window_lines} * window_samples> window_{};
};

}  // namespace guardband::measure
