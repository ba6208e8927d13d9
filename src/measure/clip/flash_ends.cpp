// Where what sticks out begins and ends along its line, to the sample, and whether it does so as a loss would.
#include <algorithm>
#include <cmath>

#include "measure/clip/flash_search.h"

namespace guardband::measure {
namespace {

constexpr int segment = FrameFeatures::segment;
constexpr int window = 160;          ///< samples around a run in which its ends are looked for
constexpr float level_noises = 2;    ///< what belongs to it lies this near to its level
constexpr float most_beyond = 0.6F;  ///< share that may stand out beyond an end, if the rest speaks for it
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

/// Takes off the ends what has not the level of the middle, where the picture behind goes on as if it were lost, and
/// adds what has it, where little sticks out.
void FlashSearch::trim(int y, const Run& inner, int& first, int& end) const {
    const CodeReader now(now_->frame);
    const float level = now.mean(inner.first * segment, inner.end * segment, y);
    const float most = level_noises * now_->noise + uneven_codes;
    const auto is_off = [&](int x) {
        constexpr int together = 3;
        float off = 0;
        for (int i = -1; i <= 1; ++i) off += now.at(std::clamp(x + i, 0, now.width() - 1), y) - level;
        return std::abs(off) / together > most;
    };
    const auto goes_on = [&](int x) {
        constexpr int beside = 2;
        if (x < 0 || x >= now.width() || is_off(x)) return false;
        float sum = 0;
        for (int i = -beside; i <= beside; ++i)
            sum += static_cast<float>(inner.sign) * (now.at(std::clamp(x + i, 0, now.width() - 1), y) -
                                                     reference(std::clamp(x + i, 0, now.width() - 1), y));
        return sum > (2 * beside + 1) * scale_ * static_cast<float>(threshold_) / 2;
    };
    while (goes_on(first - 1)) --first;
    while (goes_on(end)) ++end;
    const int from = inner.first * segment, to = inner.end * segment;
    for (int x = from; x >= first; --x)
        if (is_off(x)) {
            first = x;  // one of the three lies outside
            break;
        }
    for (int x = to - 1; x < end; ++x)
        if (is_off(x)) {
            end = x + 1;
            break;
        }
}

/// Where the sum of what sticks out over half of its height is largest.
std::optional<std::pair<int, int>> FlashSearch::ends(const Run& run, int y, float& height) const {
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
    trim(y, inner, best_first, best_end);
    best_first = std::max(best_first, left), best_end = std::min(best_end, right);
    if (best_end - best_first < least_loss(now.width())) return std::nullopt;
    if (best_end <= run.first * segment || best_first >= run.end * segment) return std::nullopt;
    sum = 0;
    for (int x = best_first; x < best_end; ++x) sum += excess(x);
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

bool FlashSearch::is_sharp(const Piece& p) const {
    constexpr float scatter = 0.7F;  // of a difference of two means of six, in noises
    const float most = most_beyond + 2.5F * scatter * now_->noise / std::max(1.0F, p.height);
    const auto [left, right] = beyond_ends(p.y, p.first, p.end, p.run.sign);
    return left <= most && right <= most;
}

}  // namespace guardband::measure
