// What tells a loss from a thing before the camera by more than its own line: that it moves, or shows beside.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <functional>

#include "measure/clip/flash_search.h"
#include "measure/clip/like_map.h"

namespace guardband::measure {
namespace {

constexpr int around = 12;          ///< samples beyond an end
constexpr float most_beside = 9;    ///< more than counts
constexpr float same_share = 0.6F;  ///< a line beside belongs to the same loss from that share of its height on
/// A thin thing elsewhere: how far, and how like it must be.
constexpr int likeness_lines = 14, likeness_segments = 5, long_segments = 7;
constexpr float like_height = 0.5F, like_level = 0.35F;
/// A line elsewhere that it may be a piece of.
constexpr int body_lines = 20;
constexpr float body_height = 0.45F, body_level = 0.3F;

/// Where a field shows the like of a piece, and how many periods of a field after it.
struct Sighting {
    const std::vector<LikePlace>* places;
    const LikeMap* map;
    int periods;
};

/// Whether a field shows it near where a motion takes it.
bool is_taken_to(const Sighting& seen, double samples_per_period, double rows_per_period) {
    constexpr double most_samples = 3, most_rows = 1.5;  // per period: what hands and legs add
    const double right = samples_per_period * seen.periods, down = rows_per_period * seen.periods;
    const double beside = most_samples * std::abs(seen.periods), above = most_rows * std::abs(seen.periods);
    return seen.map->has_any(right - beside, right + beside, down - above, down + above);
}

/// Whether a motion has taken it out of the picture by then, where nothing can be seen of it.
bool has_left(const FlashPiece& piece, const media::Plane& plane, int periods, double samples_per_period,
              double rows_per_period) {
    const double right = samples_per_period * periods, down = rows_per_period * periods;
    return piece.first + right < 0 || piece.end + right > plane.width || piece.y + down < 0 ||
           piece.y + down >= plane.height;
}

/// To how many of the fields one motion takes it, at most. Those where it is out of the picture count too, if enough
/// others show it.
int most_on_one_motion(const std::array<Sighting, 5>& fields, const FlashPiece& piece, const media::Plane& plane,
                       int enough) {
    int most = 0;
    for (const Sighting& first : fields)
        for (const LikePlace& p : *first.places) {
            const double right = static_cast<double>(p.samples) / first.periods,
                         down = static_cast<double>(p.rows) / first.periods;
            int seen = 0, gone = 0;
            for (const Sighting& other : fields)
                if (is_taken_to(other, right, down))
                    ++seen;
                else if (has_left(piece, plane, other.periods, right, down))
                    ++gone;
            most = std::max(most, seen >= enough ? seen + gone : seen);
            if (most == static_cast<int>(fields.size())) return most;
        }
    return most;
}

}  // namespace

/// How many of the five fields around have its like where one and the same motion takes it, as they do of a thing that
/// moves. What two losses have in common by chance is not there.
int FlashSearch::seen_on_one_motion(const FlashPiece& piece) const {
    likeness_.take(now_->frame, piece, now_->noise);
    std::array<std::vector<LikePlace>, 5>
        places;  // frame before: own parity, other; this one: other; after: own, other
    const int own = piece.y % 2;
    if (before_ != nullptr) likeness_.find_in(before_->frame, own, places[0]);
    if (before_ != nullptr) likeness_.find_in(before_->frame, 1 - own, places[1]);
    likeness_.find_in(now_->frame, 1 - own, places[2]);
    if (after_ != nullptr) likeness_.find_in(after_->frame, own, places[3]);
    if (after_ != nullptr) likeness_.find_in(after_->frame, 1 - own, places[4]);
    std::array<LikeMap, 5> maps;
    for (std::size_t i = 0; i < maps.size(); ++i) maps[i].fill(places[i]);
    const int enough = now_->in_blocks ? 3 : 2;  // outlines that a codec frayed are alike by chance
    int most = 0;
    // Periods of a field from the piece to each, if its own field is the first of its frame, and if it is the second.
    for (const std::array<int, 5>& periods : {std::array{-2, -1, 1, 2, 3}, std::array{-2, -3, -1, 2, 1}}) {
        std::array<Sighting, 5> fields{};
        for (std::size_t i = 0; i < fields.size(); ++i) fields[i] = {&places[i], &maps[i], periods[i]};
        most = std::max(most, most_on_one_motion(fields, piece, now_->frame.planes[0], enough));
    }
    return most;
}

/// Whether a frame has a thin thing there that is as high and has the same level.
bool FlashSearch::likeness_in(const LossFrame& frame, int y, int first, int end, int sign, float level, float height,
                              int lines) const {
    const Grid<std::uint32_t>& sums = frame.sums;
    if (y < 0 || y >= sums.height) return false;
    // Whether segments of the row have its level and stand out from the rows above and below; what lies between two
    // lines takes in one more.
    const auto alike = [&](int from, int to) {
        const auto mean = [&](int row) {
            std::uint32_t sum = 0;
            for (int s = from; s < to; ++s) sum += sums.at(s, row);
            return scale_ * static_cast<float>(sum) / static_cast<float>(to - from);
        };
        const float here = mean(y);
        const auto stands_out = [&](int row) {
            return row < 0 || row >= sums.height ||
                   static_cast<float>(sign) * (here - mean(row)) >= like_height * height;
        };
        return std::abs(here - level) <= like_level * height &&
               (stands_out(y - 2 * lines) || stands_out(y - 2 * lines - 2)) &&
               (stands_out(y + 2 * lines) || stands_out(y + 2 * lines + 2));
    };
    constexpr int beyond = 2;  // the next segment may hold the end itself
    for (int shift = -likeness_segments; shift <= likeness_segments; ++shift) {
        const int from = first + shift, to = end + shift;
        if (from < 0 || to > sums.width || !alike(from, to)) continue;
        // It must end where this ends, too: a short loss before a long rail is no part of the rail.
        const bool goes_on =
            end - first < long_segments && ((from >= beyond && alike(from - beyond, from - beyond + 1)) ||
                                            (to + beyond <= sums.width && alike(to + beyond - 1, to + beyond)));
        if (!goes_on) return true;
    }
    return false;
}

/// By how much the nearest lines that are no part of it stand out between its ends too, as a share: what a camera sees
/// has no sharp edge from line to line.
float FlashSearch::shown_beside(const Piece& p) const {
    const CodeReader now(now_->frame);
    const auto sign = static_cast<float>(p.run.sign);
    const int left = std::max(0, p.first - around), right = std::min(now.width(), p.end + around);
    const auto step = [&](int row) {
        const float inside = now.mean(p.first + edge_gap, p.end - edge_gap, row);
        float outside = 0;
        int ends = 0;
        if (p.first - edge_gap > left) outside += now.mean(left, p.first - edge_gap, row), ++ends;
        if (p.end + edge_gap < right) outside += now.mean(p.end + edge_gap, right, row), ++ends;
        return ends > 0 ? sign * (inside - outside / static_cast<float>(ends)) : 0.0F;
    };
    const float here = step(p.y);
    float beside = 0;
    for (const int way : {-2, 2}) {
        int row = p.y + way;
        while (row >= 0 && row < now.height() && std::abs(row - p.y) <= 2 * most_lines &&
               step(row) >= same_share * here)
            row += way;
        if (row < 0 || row >= now.height()) return most_beside;  // there is nothing to see it by
        if (row + way >= 0 && row + way < now.height()) beside += step(row) - step(row + way);
    }
    return beside / std::max(1.0F, here);
}

/// How many of three fields around have something like it near: that of the frame before, after, and the other one.
int FlashSearch::seen_elsewhere(const Piece& piece) const {
    const Run run = inside(piece.run);
    const float level = *mean_of(run, piece.y);
    const auto near = [&](const LossFrame* frame, int offset) {
        if (frame == nullptr) return false;
        for (int line = -likeness_lines; line <= likeness_lines; ++line)
            if (likeness_in(*frame, piece.y + 2 * line + offset, run.first, run.end, run.sign, level, piece.height,
                            piece.lines()))
                return true;
        return false;
    };
    return (near(before_, 0) ? 1 : 0) + (near(after_, 0) ? 1 : 0) + (near(now_, 1) ? 1 : 0);
}

/// How much of its length a thin line of the same level covers in a row of another field.
float FlashSearch::covered_in(const LossFrame& frame, int y, const Piece& p) const {
    const Grid<std::uint32_t>& sums = frame.sums;
    const int reach = 2 * p.lines() + 2, first = (p.first + FrameFeatures::segment / 2) / FrameFeatures::segment,
              end = std::max(first + 1, (p.end - FrameFeatures::segment / 2) / FrameFeatures::segment + 1);
    if (y < reach || y + reach >= sums.height) return 0;
    int covered = 0;
    for (int s = first; s < std::min(end, sums.width); ++s) {
        const auto mean = [&](int row) {
            return static_cast<float>(p.run.sign) * scale_ * static_cast<float>(sums.at(s, row));
        };
        const float here = mean(y), least = here - body_height * p.height;
        if (std::abs(here - static_cast<float>(p.run.sign) * p.level) < body_level * p.height &&
            std::min(mean(y - reach + 2), mean(y - reach)) < least &&
            std::min(mean(y + reach - 2), mean(y + reach)) < least)
            ++covered;
    }
    return static_cast<float>(covered) / static_cast<float>(end - first);
}

/// By how much more than half its length thin lines near cover, in the second and the third best of the five fields
/// around, together: a piece of a line that something hides the rest of has no like, but the line has. Half of it signs
/// and branches may cover.
float FlashSearch::covered_elsewhere(const Piece& p) const {
    const auto best = [&](const LossFrame* frame, int parity) {
        float most = 0;
        for (int line = -body_lines; frame != nullptr && line <= body_lines; ++line)
            most = std::max(most, covered_in(*frame, p.y / 2 * 2 + parity + 2 * line, p));
        return most;
    };
    const int own = p.y % 2;
    std::array shares{best(before_, own), best(before_, 1 - own), best(now_, 1 - own), best(after_, own),
                      best(after_, 1 - own)};
    std::ranges::sort(shares, std::greater());
    constexpr float by_signs = 0.5F;
    return std::max(0.0F, shares[1] - by_signs) + std::max(0.0F, shares[2] - by_signs);
}

}  // namespace guardband::measure
