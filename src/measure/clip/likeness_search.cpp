#include "measure/clip/likeness_search.h"

#include <algorithm>
#include <array>
#include <cstdlib>
#include <numeric>

#include "measure/clip/block_search.h"

namespace guardband::measure {
namespace {

constexpr int outside = 8, most_inside = 24;  ///< samples of an end
constexpr int step = 2;                       ///< from one place that is tried to the next
constexpr int most_growth = 6;                ///< samples by which a thing may be longer or shorter in another field
constexpr float most_share = 0.15F;           ///< mean difference, of the height there
constexpr float mean_of_noise = 1.13F;        ///< magnitude of a difference of two samples, in noises
constexpr float quarter_codes = 4;
/// Of the thing in another field, of its own here.
constexpr std::array<float, LikenessSearch::height_count> heights{1.0F, 0.75F, 0.55F};

void read_quarter_codes(const media::Frame& frame, int y, int x, int count, std::vector<float>& codes,
                        std::int16_t* out) {
    codes.resize(static_cast<std::size_t>(count));
    read_codes(frame.planes[0], frame.format.bit_depth, y, x, count, codes.data());
    for (int i = 0; i < count; ++i)
        out[i] = static_cast<std::int16_t>(quarter_codes * codes[static_cast<std::size_t>(i)]);
}

}  // namespace

/// @param first, last  of the end's samples, from the piece's first; what lies outside the piece is its ground
void LikenessSearch::take_end(const media::Frame& frame, End& end, int first, int last, float noise) const {
    end.is_there = true, end.at = first, end.count = last - first;
    const auto count = static_cast<std::size_t>(end.count);
    end.samples.resize(heights.size() * count);
    std::vector<float> codes;
    read_quarter_codes(frame, piece_.y, piece_.first + first, end.count, codes, end.samples.data());
    float ground = 0;
    int beyond = 0;
    for (int i = 0; i < end.count; ++i)
        if (first + i < 0 || first + i >= piece_.end - piece_.first)
            ground += codes[static_cast<std::size_t>(i)], ++beyond;
    ground /= static_cast<float>(std::max(1, beyond));
    for (std::size_t height = 0; height < heights.size(); ++height) {
        for (std::size_t i = 0; i < count && beyond > 0; ++i)
            end.samples[height * count + i] =
                static_cast<std::int16_t>(quarter_codes * (ground + heights[height] * (codes[i] - ground)));
        const float most = most_share * heights[height] * piece_.height + mean_of_noise * noise;
        end.most[height] =
            beyond > 0 || height == 0 ? static_cast<int>(quarter_codes * most * static_cast<float>(count)) : -1;
    }
}

void LikenessSearch::take(const media::Frame& frame, const FlashPiece& piece, float noise) {
    piece_ = piece, width_ = frame.planes[0].width;
    const int length = piece.end - piece.first, inside = std::min(most_inside, length / 2);
    const bool left = piece.first >= outside, right = piece.end + outside <= frame.planes[0].width;
    right_.is_there = left && right;
    if (!right_.is_there) return take_end(frame, left_, left ? -outside : 0, length + (right ? outside : 0), noise);
    take_end(frame, left_, -outside, inside, noise);
    take_end(frame, right_, length - inside, length + outside, noise);
}

bool LikenessSearch::alike(const End& end, std::size_t height, const std::int16_t* row) {
    const std::int16_t* samples = end.samples.data() + height * static_cast<std::size_t>(end.count);
    int sum = 0;
    for (int i = 0; i < end.count; ++i) sum += std::abs(samples[i] - row[i]);
    return sum <= end.most[height];
}

/// @param row  from `reach_samples` and an end's outside before the piece on
bool LikenessSearch::is_at(const std::int16_t* row, int shift) const {
    for (std::size_t height = 0; height < heights.size(); ++height) {
        if (!alike(left_, height, row + shift + outside + left_.at)) continue;
        if (!right_.is_there) return true;
        const std::int16_t* right = row + shift + outside + right_.at;
        for (int growth = -most_growth; growth <= most_growth; growth += step)
            if (alike(right_, height, right + growth)) return true;
    }
    return false;
}

/// Whether an end so shifted would lie outside the picture, where there is nothing to be like.
bool LikenessSearch::leaves(int shift) const {
    const int first = piece_.first + left_.at + shift;
    const End& last = right_.is_there ? right_ : left_;
    return first < 0 || piece_.first + last.at + last.count + shift > width_;
}

void LikenessSearch::find_in(const media::Frame& frame, int parity, std::vector<LikePlace>& places) const {
    const int from = piece_.first - outside - reach_samples - most_growth,
              count = piece_.end - piece_.first + 2 * (outside + reach_samples + most_growth);
    row_.resize(static_cast<std::size_t>(count));
    std::vector<float> codes;
    for (int line = -reach_lines; line <= reach_lines; ++line) {
        const int y = piece_.y / 2 * 2 + parity + 2 * line;
        if (y < 0 || y >= frame.planes[0].height) continue;
        read_quarter_codes(frame, y, from, count, codes, row_.data());
        for (int shift = 0; shift <= 2 * reach_samples; shift += step)
            if (!leaves(shift - reach_samples) && is_at(row_.data() + most_growth, shift))
                places.push_back({shift - reach_samples, y - piece_.y});
    }
}

}  // namespace guardband::measure
