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
constexpr float thin_share = 0.3F;         ///< of its height: half of what the faintest has
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
    end.at = first, end.count = last - first;
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
    left_.is_there = piece.first >= outside, right_.is_there = piece.end + outside <= width_;
    if (left_.is_there) take_end(frame, left_, -outside, inside, noise);
    if (right_.is_there) take_end(frame, right_, length - inside, length + outside, noise);
    take_middle(frame, left_.is_there ? inside : 0, right_.is_there ? length - inside : length, noise);
}

/// What lies between its ends, or an end and the picture's edge, is level; at each of the lesser heights over the
/// ground beyond. Of a piece from edge to edge nothing tells that ground.
void LikenessSearch::take_middle(const media::Frame& frame, int first, int last, float noise) {
    middle_at_ = first, middle_count_ = std::max(0, last - first);
    const auto mean = [](const std::int16_t* from, int count) {
        return std::accumulate(from, from + count, 0.0F) / static_cast<float>(count);
    };
    float ground = 0, level = quarter_codes * CodeReader(frame).mean(piece_.first, piece_.end, piece_.y);
    if (right_.is_there) {
        const std::int16_t* from = right_.samples.data();
        level = mean(from, right_.inside_end), ground = mean(from + right_.inside_end, outside);
    }
    if (left_.is_there) {
        const std::int16_t* from = left_.samples.data();
        level = mean(from + outside, left_.count - outside);
        ground = (mean(from, outside) + (right_.is_there ? ground : mean(from, outside))) / 2;
    }
    for (std::size_t height = 0; height < heights.size(); ++height) {
        middle_level_[height] = static_cast<int>(ground + heights[height] * (level - ground));
        const float most = most_middle_share * heights[height] * piece_.height + mean_of_noise * noise;
        most_middle_[height] = left_.is_there || right_.is_there || height == 0
                                   ? static_cast<int>(quarter_codes * most * static_cast<float>(middle_count_))
                                   : -1;
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
    const std::int16_t* piece = row + shift + outside;
    for (std::size_t height = 0; height < heights.size(); ++height) {
        if (left_.is_there && !alike(left_, height, piece + left_.at)) continue;
        if (!middle_alike(height, piece + middle_at_)) continue;
        if (!right_.is_there) return true;
        const int most = left_.is_there ? most_growth : 0;
        for (int growth = -most; growth <= most; growth += step)
            if (alike(right_, height, piece + right_.at + growth)) return true;
    }
    return false;
}

/// Whether an end so shifted would lie outside the picture, where there is nothing to be like.
bool LikenessSearch::leaves(int shift) const {
    return piece_.first - (left_.is_there ? outside : 0) + shift < 0 ||
           piece_.end + (right_.is_there ? outside : 0) + shift > width_;
}

/// Whether what is there stands out from the lines of its field above and below. What has an end at the picture's edge
/// has but one that must be alike, and so has any wide thing as bright or as dark.
bool LikenessSearch::is_thin(const CodeReader& reader, int y, int shift) const {
    const auto mean = [&](int row) {
        return static_cast<float>(piece_.sign) * reader.mean(piece_.first + shift, piece_.end + shift, row);
    };
    const float here = mean(y);
    return std::ranges::all_of(std::array{-1, 1}, [&](int way) {
        return std::ranges::any_of(std::array{0, 1}, [&](int more) {  // what lies between two lines takes in one more
            const int row = y + 2 * way * (piece_.lines + more);
            return row < 0 || row >= reader.height() || here - mean(row) >= thin_share * piece_.height;
        });
    });
}

void LikenessSearch::find_in(const media::Frame& frame, int parity, std::vector<LikePlace>& places) const {
    const int from = piece_.first - outside - reach_samples - most_growth,
              count = piece_.end - piece_.first + 2 * (outside + reach_samples + most_growth);
    row_.resize(static_cast<std::size_t>(count));
    std::vector<float> codes;
    const CodeReader reader(frame);
    const bool is_whole = left_.is_there && right_.is_there;
    const auto is_like = [&](int y, int shift) {
        return is_at(row_.data() + most_growth, shift + reach_samples) && (is_whole || is_thin(reader, y, shift));
    };
    for (int line = -reach_lines; line <= reach_lines; ++line) {
        const int y = piece_.y / 2 * 2 + parity + 2 * line;
        if (y < 0 || y >= frame.planes[0].height) continue;
        read_quarter_codes(frame, y, from, count, codes, row_.data());
        for (int shift = -reach_samples; shift <= reach_samples; shift += step)
            if (!leaves(shift) && is_like(y, shift)) places.push_back({shift, y - piece_.y});
    }
}

}  // namespace guardband::measure
