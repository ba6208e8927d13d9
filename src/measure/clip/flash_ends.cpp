// Where what sticks out begins and ends along its line, to the sample, and whether it does so as a loss would.
#include <algorithm>
#include <array>
#include <cmath>

#include "measure/clip/flash_search.h"

namespace guardband::measure {
namespace {

constexpr int segment = FrameFeatures::segment;
constexpr int window = 160;        ///< samples around a run in which its ends are looked for
constexpr float level_noises = 2;  ///< what belongs to it lies this near to its level
constexpr int edge_reach = 8;

float middle(float a, float b, float c) { return std::max(std::min(a, b), std::min(std::max(a, b), c)); }

}  // namespace

float FlashSearch::reference(int x, int y) const {
    const CodeReader now(now_->frame);
    const int up = y > 0 ? y - 1 : y + 1, down = y + 1 < now.height() ? y + 1 : y - 1;
    const float beside = (now.at(x, up) + now.at(x, down)) / 2;
    const float earlier = before_ != nullptr ? CodeReader(before_->frame).at(x, y) : beside;
    const float later = after_ != nullptr ? CodeReader(after_->frame).at(x, y) : beside;
    return middle(beside, earlier, later);
}

/// The segments of a run that it fills.
FlashSearch::Run FlashSearch::inside(const Run& run) {
    return run.end - run.first >= 3 ? Run{run.line, run.first + 1, run.end - 1, run.sign} : run;
}

/// Its ends by its level, which a loss has all along: beyond what first was taken for its ends as long as the level
/// stays, up to where it sticks out last; what lies behind may be as bright in places, if not over more than sticks
/// out. Nothing if there is no level.
bool FlashSearch::trim(int y, const Run& run, int& first, int& end) {
    const CodeReader now(now_->frame);
    const int from = std::max(first, run.first * segment), to = std::min(end, run.end * segment);
    if (from >= to) return false;
    samples_.clear();
    for (int x = from; x < to; ++x) samples_.push_back(now.at(x, y));
    const auto half = samples_.begin() + (to - from) / 2;
    std::ranges::nth_element(samples_, half);
    const float level = *half, most = level_noises * now_->noise + (now_->is_lossy    ? off_if_lossy_codes
                                                                    : now_->in_blocks ? off_in_blocks_codes
                                                                                      : uneven_codes);
    const auto is_off = [&](int x) {
        constexpr int together = 3;
        float off = 0;
        for (int i = -1; i <= 1; ++i) off += now.at(std::clamp(x + i, 0, now.width() - 1), y) - level;
        return std::abs(off) / together > most;
    };
    const auto sticks_out = [&](int x) {
        constexpr int beside = 2;
        float sum = 0;
        for (int i = -beside; i <= beside; ++i) {
            const int at = std::clamp(x + i, 0, now.width() - 1);
            sum += static_cast<float>(run.sign) * (now.at(at, y) - reference(at, y));
        }
        return sum > (2 * beside + 1) * scale_ * static_cast<float>(threshold_) / 2;
    };
    int start = (from + to) / 2;
    for (int away = 0; away < (to - from) / 2 && is_off(start); ++away)
        start = (from + to) / 2 + (away % 2 == 0 ? 1 : -1) * (away / 2 + 1);
    if (is_off(start)) return false;
    const auto last = [&](int way) {
        int x = start, at = start, covered = 0;
        for (; x >= 0 && x < now.width() && !is_off(x); x += way) {
            const int hidden = std::abs(x - at);
            if (hidden > std::max(segment / 2, covered)) break;
            if (sticks_out(x)) at = x, ++covered;
        }
        const bool ended_by_level = std::abs(x - at) <= 1;  // one of the three lies outside
        return ended_by_level ? std::clamp(x, 0, now.width() - 1) : at;
    };
    first = last(-1), end = last(1) + 1;
    return true;
}

/// Where the sum of what sticks out over half of its height is largest.
std::optional<std::pair<int, int>> FlashSearch::ends(const Run& run, int y, float& height) {
    const CodeReader now(now_->frame);
    const int left = std::max(0, run.first * segment - window),
              right = std::min(now.width(), run.end * segment + window);
    excess_.clear();
    for (int x = left; x < right; ++x)
        excess_.push_back(static_cast<float>(run.sign) * (now.at(x, y) - reference(x, y)));
    const auto excess = [&](int x) { return excess_[static_cast<std::size_t>(x - left)]; };
    // By the segment that sticks out least, since what lies behind may be anything; those at the ends hold part of it.
    float lowest = 255;
    const Run inner = inside(run);
    for (int s = inner.first; s < inner.end; ++s) {
        float sum = 0;
        for (int x = s * segment; x < (s + 1) * segment; ++x) sum += excess(x);
        lowest = std::min(lowest, sum / segment);
    }
    const float middle_height = std::max(lowest, scale_ * static_cast<float>(threshold_)) / 2;
    int first = left, best_first = left, best_end = left;
    float sum = 0, best = 0;
    for (int x = left; x < right; ++x) {
        if (sum <= 0) sum = 0, first = x;
        sum += excess(x) - middle_height;
        if (sum > best) best = sum, best_first = first, best_end = x + 1;
    }
    if (!trim(y, run, best_first, best_end)) return std::nullopt;
    if (best_end - best_first < least_loss(now.width())) return std::nullopt;
    if (best_end <= run.first * segment || best_first >= run.end * segment) return std::nullopt;
    sum = 0;
    for (int x = best_first; x < best_end; ++x) sum += static_cast<float>(run.sign) * (now.at(x, y) - reference(x, y));
    height = sum / static_cast<float>(best_end - best_first);
    return std::pair(best_first, best_end);
}

/// What stands out on the outer side of both ends, as a share of what does on the inner; 0 at the picture's edge.
std::pair<float, float> FlashSearch::beyond_ends(int y, int first, int end, int sign) const {
    const CodeReader now(now_->frame);
    const auto mean_excess = [&](int from, int to) {
        float sum = 0;
        for (int x = from; x < to; ++x) sum += static_cast<float>(sign) * (now.at(x, y) - reference(x, y));
        return sum / static_cast<float>(to - from);
    };
    const auto share = [&](int outside, int inside) {
        constexpr int count = edge_reach - edge_gap;
        return mean_excess(outside, outside + count) / std::max(1.0F, mean_excess(inside, inside + count));
    };
    return {first < edge_reach ? 0 : share(first - edge_reach, first + edge_gap),
            end + edge_reach > now.width() ? 0 : share(end + edge_gap, end - edge_reach)};
}

/// What lies beyond an end, between two samples, by the rows beside and the frames around: how much of it is more or
/// less than they all show, and by how much they differ, as shares of the height; nothing at the picture's edge.
FlashSearch::Beyond FlashSearch::seen_beyond(const Piece& p, int from, int end) const {
    const CodeReader now(now_->frame);
    if (from < 0 || end > now.width()) return {};
    float least = 255, most = 0;
    const auto add = [&](const CodeReader& reader, int row) {
        if (row < 0 || row >= reader.height()) return;
        const float mean = reader.mean(from, end, row);
        least = std::min(least, mean), most = std::max(most, mean);
    };
    add(now, p.y - 1), add(now, p.y + 1);
    for (const LossFrame* other : {before_, after_})
        if (other != nullptr) add(CodeReader(other->frame), p.y);
    const float here = now.mean(from, end, p.y);
    return {std::abs(here - std::clamp(here, least, most)) / p.height, (most - least) / p.height};
}

/// Of both ends.
std::array<FlashSearch::Beyond, 2> FlashSearch::seen_beyond_ends(const Piece& p) const {
    return {seen_beyond(p, p.first - edge_reach, p.first - edge_gap),
            seen_beyond(p, p.end + edge_gap, p.end + edge_reach)};
}

}  // namespace guardband::measure
