#include "measure/clip/edge_doubt.h"

#include <algorithm>
#include <span>

#include "dsp/robust.h"
#include "measure/clip/head_switch.h"

namespace guardband::measure {
namespace {

/// Lines to either side over which strain is averaged; what one counts at most.
constexpr std::size_t half = 4;
constexpr float most_strain = 40;
/// Mean strain up to which nothing need stand under an edge: at least, and in medians of the field.
constexpr float usual_strain = 5, usual_in_medians = 1.5F;
/// By so many times itself a variance rises for each of strain beyond, and by so much at most, squared samples: 74 ns.
constexpr float rise_per_strain = 10, most_added = 1;
/// From so much strain beyond an edge doesn't tell how far edges are off each other.
constexpr float least_doubt = 0.2F;

}  // namespace

void EdgeDoubt::average(const std::vector<EdgeLine>& lines, std::size_t side) {
    averages_.assign(lines.size(), 0);
    float sum = 0, count = 0;
    const auto add = [&](std::size_t y, float sign) {
        if (const auto& edge = lines[y].edges[side]) sum += sign * std::min(edge->strain, most_strain), count += sign;
    };
    for (std::size_t y = 0; y < std::min(half, lines.size()); ++y) add(y, 1);
    for (std::size_t y = 0; y < lines.size(); ++y) {
        if (y + half < lines.size()) add(y + half, 1);
        if (y > half) add(y - half - 1, -1);
        averages_[y] = count > 0 ? sum / count : 0;
    }
}

/// Strain beyond which an edge is doubted.
float EdgeDoubt::limit(const std::vector<EdgeLine>& lines, std::size_t side) {
    spare_.clear();
    for (std::size_t y = 0; y < lines.size(); ++y)
        if (lines[y].edges[side]) spare_.push_back(averages_[y]);
    if (spare_.empty()) return usual_strain;
    const auto median = static_cast<float>(dsp::median(std::span<const float>(spare_)));
    return std::max(usual_strain, usual_in_medians * median);
}

void EdgeDoubt::raise(std::vector<EdgeLine>& lines, std::size_t side, bool foreseen_only) {
    average(lines, side);
    const float most = limit(lines, side);
    // The few lines after a head switch have junk beside them, and their mean place is wanted, not each one's.
    for (std::size_t y = 0; y + switch_zone < lines.size(); ++y) {
        EdgeLine& line = lines[y];
        if (!line.edges[side] || (foreseen_only && !line.foreseen[side])) continue;
        const float beyond = std::max(0.0F, averages_[y] - most);
        float& variance = line.edges[side]->variance;
        variance += std::min(rise_per_strain * beyond * variance, most_added);
        line.doubted[side] = beyond > least_doubt;
    }
}

void EdgeDoubt::see(std::vector<EdgeLine>& lines) {
    for (std::size_t side = 0; side < 2; ++side) raise(lines, side, false);
}

void EdgeDoubt::see_foreseen(std::vector<EdgeLine>& lines) {
    for (std::size_t side = 0; side < 2; ++side) raise(lines, side, true);
}

}  // namespace guardband::measure
