#include "measure/clip/likeness_search.h"

#include <algorithm>
#include <array>
#include <cstdlib>
#include <numeric>

#include "measure/clip/block_search.h"

namespace guardband::measure {
namespace {

constexpr int outside = 8, most_inside = 24;  ///< samples of an end
constexpr int few_samples = 8;
constexpr int step = 2;                    ///< from one place that is tried to the next
constexpr int most_growth = 6;             ///< samples by which a thing may be longer or shorter in another field
constexpr float most_share = 0.15F;        ///< mean difference, of the height there
constexpr float most_middle_share = 0.3F;  ///< the same between the ends, where something may hide some of it
constexpr float mean_of_noise = 1.13F;     ///< magnitude of a difference of two samples, in noises
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
    end.inside_at = std::clamp(-first, 0, end.count);
    end.inside_end = std::clamp(piece_.end - piece_.first - first, 0, end.count);
    float level = 0;
    for (int i = end.inside_at; i < end.inside_end; ++i) level += codes[static_cast<std::size_t>(i)];
    level /= static_cast<float>(std::max(1, end.inside_end - end.inside_at));
    end.sign = level > ground ? 1 : -1;
    for (std::size_t height = 0; height < heights.size(); ++height) {
        for (std::size_t i = 0; i < count && beyond > 0; ++i)
            end.samples[height * count + i] =
                static_cast<std::int16_t>(quarter_codes * (ground + heights[height] * (codes[i] - ground)));
        end.half[height] = static_cast<int>(quarter_codes * (ground + heights[height] * (level - ground) / 2));
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
    take_middle(inside, length - inside, noise);
}

/// What lies between its ends is level; at each of the lesser heights over the ground there.
void LikenessSearch::take_middle(int first, int last, float noise) {
    middle_at_ = first, middle_count_ = std::max(0, last - first);
    const auto mean = [](const std::int16_t* from, int count) {
        return std::accumulate(from, from + count, 0.0F) / static_cast<float>(count);
    };
    const std::int16_t* right = right_.samples.data();
    const float ground = (mean(left_.samples.data(), outside) + mean(right + right_.count - outside, outside)) / 2;
    const int inside = left_.count - outside;
    const float level = mean(left_.samples.data() + outside, inside);
    for (std::size_t height = 0; height < heights.size(); ++height) {
        middle_level_[height] = static_cast<int>(ground + heights[height] * (level - ground));
        const float most = most_middle_share * heights[height] * piece_.height + mean_of_noise * noise;
        most_middle_[height] = static_cast<int>(quarter_codes * most * static_cast<float>(middle_count_));
    }
}

/// Whether the middle is there as well: signs and branches have many ends, but not what joins two of them.
bool LikenessSearch::middle_alike(std::size_t height, const std::int16_t* row) const {
    int sum = 0;
    for (int i = 0; i < middle_count_; ++i) sum += std::abs(row[i] - middle_level_[height]);
    return sum <= most_middle_[height];
}

bool LikenessSearch::alike(const End& end, std::size_t height, const std::int16_t* row) {
    const std::int16_t* samples = end.samples.data() + height * static_cast<std::size_t>(end.count);
    const int half = end.half[height];
    const int most = end.most[height];
    int sum = 0;
    for (int i = end.inside_at; i < end.inside_end; i += few_samples) {  // most places fail by the first few
        for (int k = i; k < std::min(i + few_samples, end.inside_end); ++k) sum += std::abs(samples[k] - row[k]);
        if (sum > most) return false;
    }
    // Another ground may lie behind it there, but nothing as bright or as dark.
    const auto add_ground = [&](int from, int to) {
        for (int i = from; i < to; ++i) {
            const int above = end.sign * (row[i] - half), by = std::abs(samples[i] - row[i]);
            sum += above > 0 ? std::min(by, 2 * above) : 0;
        }
    };
    add_ground(0, end.inside_at), add_ground(end.inside_end, end.count);
    return sum <= most;
}

/// @param row  from `reach_samples` and an end's outside before the piece on
bool LikenessSearch::is_at(const std::int16_t* row, int shift) const {
    for (std::size_t height = 0; height < heights.size(); ++height) {
        if (!alike(left_, height, row + shift + outside + left_.at)) continue;
        if (!right_.is_there) return true;
        if (!middle_alike(height, row + shift + outside + middle_at_)) continue;
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
