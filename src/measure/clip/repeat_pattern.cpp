#include "measure/clip/repeat_pattern.h"

#include <algorithm>
#include <array>

namespace guardband::measure {
namespace {

/// Distances between the first fields of successive repeats, by turns, and how many fields each repeat has.
struct Known {
    std::string_view cadence;
    std::array<std::int64_t, 2> distances;
    std::int64_t count;
    double pictures_per_field;
};

// A picture that stands for three fields, among those of two, repeats one; a picture of four fields, two.
constexpr Known known[] = {
    {"2:3", {5, 5}, 1, 4.0 / 5},
    {"2:3:3:2", {3, 7}, 1, 4.0 / 5},
    {"2:2:2:4", {10, 10}, 2, 4.0 / 5},
    {"2:2:3:2:3", {5, 7}, 1, 5.0 / 6},
    {"2:2:2:2:2:2:2:2:2:2:2:3", {25, 25}, 1, 24.0 / 25},
    {"4:4", {4, 4}, 2, 1.0 / 2},
    {"", {12, 12}, 2, 5.0 / 6},  // every fifth frame twice
};

/// Turns of the pattern that may go by without a repeat being seen.
constexpr std::int64_t most_missed = 3;
/// Distances that must be right, of all, and how many at least; fewer where repeats are far apart.
constexpr double least_share = 0.8;
constexpr std::size_t fewest = 5, fewest_far = 3;
constexpr std::int64_t far = 20;

/// Whether most of the distances are the pattern's own, none missed between: every pattern fits multiples of it.
bool is_own(std::span<const RepeatedStretch> stretches, const std::vector<bool>& follows, const Known& pattern) {
    std::size_t own = 0, all = 0;
    for (std::size_t i = 1; i < stretches.size(); ++i) {
        if (!follows[i]) continue;
        const std::int64_t distance = stretches[i].first - stretches[i - 1].first;
        ++all, own += distance == pattern.distances[0] || distance == pattern.distances[1] ? 1 : 0;
    }
    return 2 * own > all;
}

/// Which of the stretches stand where the pattern has them, seen from the one before.
std::vector<bool> follow(std::span<const RepeatedStretch> stretches, const Known& pattern) {
    std::vector<bool> follows(stretches.size(), false);
    const auto [a, b] = pattern.distances;
    std::int64_t due = 0;  // the distance that must come next, where the two differ; 0 at the start
    for (std::size_t i = 1; i < stretches.size(); ++i) {
        const std::int64_t distance = stretches[i].first - stretches[i - 1].first;
        const bool counts = stretches[i].count == pattern.count && stretches[i - 1].count == pattern.count;
        if (a == b) {
            follows[i] = counts && distance % a == 0 && distance <= (most_missed + 1) * a;
            continue;
        }
        const std::int64_t whole = distance / (a + b) * (a + b), rest = distance - whole;
        follows[i] = counts && whole <= most_missed * (a + b) &&
                     (rest == 0 || ((rest == a || rest == b) && (due == 0 || rest == due)));
        if (!follows[i]) due = 0;
        if (follows[i] && rest != 0) due = a + b - rest;
    }
    return follows;
}

}  // namespace

std::optional<RepeatPattern> find_pattern(std::span<const RepeatedStretch> stretches) {
    std::optional<RepeatPattern> best;
    std::ptrdiff_t most = 0;
    for (const Known& pattern : known) {
        const std::vector<bool> follows = follow(stretches, pattern);
        const std::ptrdiff_t right = std::ranges::count(follows, true);
        const std::size_t enough = pattern.distances[0] >= far ? fewest_far : fewest;
        if (static_cast<std::size_t>(right) < enough || right <= most || !is_own(stretches, follows, pattern) ||
            static_cast<double>(right) < least_share * static_cast<double>(stretches.size() - 1))
            continue;
        most = right;
        best = RepeatPattern{pattern.cadence, pattern.pictures_per_field, follows};
        for (std::size_t i = 1; i < follows.size(); ++i) {
            if (follows[i]) best->belongs[i - 1] = true;
            best->breaks += follows[i] ? 0 : 1;
        }
    }
    return best;
}

}  // namespace guardband::measure
