#include "measure/clip/like_map.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

/// Bits from `first` to `last`, which may lie outside the word.
std::uint64_t bits(int first, int last, int word_bits) {
    const int from = std::max(first, 0), to = std::min(last, word_bits - 1);
    return from > to ? 0 : (~std::uint64_t{0} >> (word_bits - 1 - (to - from))) << from;
}

}  // namespace

void LikeMap::fill(std::span<const LikePlace> places) {
    for (auto& row : rows_) row.fill(0);
    for (const LikePlace& p : places) {
        const int column = (p.samples + LikenessSearch::reach_samples) / 2;
        rows_[static_cast<std::size_t>(p.rows + most_rows)][static_cast<std::size_t>(column / word_bits)] |=
            std::uint64_t{1} << (column % word_bits);
    }
}

bool LikeMap::has_any(double left, double right, double top, double bottom) const {
    constexpr double reach = LikenessSearch::reach_samples;
    const int first = static_cast<int>(std::ceil((std::clamp(left, -reach, reach + 2) + reach) / 2));
    const int last = static_cast<int>(std::floor((std::clamp(right, -reach - 2, reach) + reach) / 2));
    const int from = static_cast<int>(std::ceil(std::max(top, -double{most_rows})));
    const int to = static_cast<int>(std::floor(std::min(bottom, double{most_rows})));
    for (int row = from; row <= to; ++row)
        for (int word = 0; word < words; ++word)
            if ((rows_[static_cast<std::size_t>(row + most_rows)][static_cast<std::size_t>(word)] &
                 bits(first - word * word_bits, last - word * word_bits, word_bits)) != 0)
                return true;
    return false;
}

}  // namespace guardband::measure
