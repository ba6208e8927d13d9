#include "table/suggestion.h"

#include <algorithm>
#include <cctype>
#include <vector>

namespace guardband::table {
namespace {

char lower(char c) { return static_cast<char>(std::tolower(static_cast<unsigned char>(c))); }

std::string lowered(std::string_view text) {
    std::string result(text);
    std::ranges::transform(result, result.begin(), lower);
    return result;
}

/// Optimal string alignment distance: the least number of inserts, drops, changes and swaps of neighbours.
std::size_t edits_between(const std::string& a, const std::string& b) {
    std::vector<std::size_t> before(b.size() + 1), last(b.size() + 1), row(b.size() + 1);
    for (std::size_t j = 0; j <= b.size(); ++j) last[j] = j;
    for (std::size_t i = 1; i <= a.size(); ++i) {
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const std::size_t change = last[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
            row[j] = std::min({change, last[j] + 1, row[j - 1] + 1});
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                row[j] = std::min(row[j], before[j - 2] + 1);
        }
        before.swap(last);
        last.swap(row);
    }
    return last[b.size()];
}

}  // namespace

std::string nearest_name(std::string_view mistyped, std::span<const std::string> candidates) {
    const std::string wanted = lowered(mistyped.substr(0, 64));
    std::size_t fewest = std::max<std::size_t>(1, wanted.size() / 3) + 1;
    std::string nearest;
    for (const std::string& candidate : candidates) {
        const std::size_t edits = edits_between(wanted, lowered(candidate));
        if (edits < fewest) fewest = edits, nearest = candidate;
    }
    return nearest;
}

bool same_name(std::string_view a, std::string_view b) { return std::ranges::equal(a, b, {}, lower, lower); }

std::string did_you_mean(std::string_view mistyped, std::span<const std::string> candidates,
                         const std::string& otherwise) {
    const std::string nearest = nearest_name(mistyped, candidates);
    return nearest.empty() ? otherwise : "did you mean \"" + nearest + "\"?";
}

}  // namespace guardband::table
