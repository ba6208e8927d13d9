#pragma once

#include <array>
#include <cstdint>
#include <span>

#include "measure/clip/likeness_search.h"

namespace guardband::measure {

/// The places at which a field shows the like of a piece, as a map that answers at once whether any lies within a
/// rectangle: a picture full of things that are alike has thousands of places in each field, and as many motions to be
/// tried.
class LikeMap {
public:
    /// @param places  as `LikenessSearch::find_in` finds them: within its reach, every second sample
    void fill(std::span<const LikePlace> places);
    /// Whether any place lies there, bounds included. Samples to the right, frame rows down.
    bool has_any(double left, double right, double top, double bottom) const;

private:
    static constexpr int word_bits = 64, columns = LikenessSearch::reach_samples + 1;
    static constexpr int words = (columns + word_bits - 1) / word_bits;
    static constexpr int most_rows = 2 * LikenessSearch::reach_lines + 1;  ///< up or down, the other field's as well

    std::array<std::array<std::uint64_t, words>, 2 * most_rows + 1> rows_{};
};

}  // namespace guardband::measure
