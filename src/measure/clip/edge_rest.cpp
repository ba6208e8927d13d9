// Where the scene behind the edges rests, and how far it goes up or down: the part of `EdgeMemory` that tells it from
// how groups of lines have moved.
#include <algorithm>
#include <cmath>

#include "measure/clip/edge_memory.h"

namespace guardband::measure {
namespace {

/// Movement per frame, samples and lines, below which a scene comes to rest, and above which it no longer does; groups
/// to either side that are asked as well; share of a frame in what is known of the last few.
constexpr float comes_to_rest = 0.04F, leaves_rest = 0.07F, recency = 0.125F;
constexpr std::size_t near_groups = 2;
/// So many groups of lines at either edge, or more that are known less well, must have moved alike for the scene to.
constexpr float fewest_groups = 4;

}  // namespace

/// Of a group and those around, each weighted by how well its picture tells it: flat ones say nothing. So many groups
/// around as are needed to know it.
EdgeMemory::Motion EdgeMemory::movement_around(const Side& memory, std::size_t group) {
    Motion sum, known;
    const auto add = [&](std::size_t i) {
        if (memory.matched[i] == 0 || std::abs(memory.groups[i].px) >= farthest_px) return;
        sum.px += memory.known[i].px * memory.groups[i].px, known.px += memory.known[i].px;
        sum.lines += memory.known[i].lines * memory.groups[i].lines, known.lines += memory.known[i].lines;
    };
    add(group);
    for (std::size_t away = 1; away < memory.groups.size(); ++away) {
        if (away > near_groups && known.px > enough_known && known.lines > enough_known) break;
        if (away <= group) add(group - away);
        if (group + away < memory.groups.size()) add(group + away);
    }
    return {known.px > 0 ? sum.px / known.px : 0, known.lines > 0 ? sum.lines / known.lines : 0};
}

/// Where the scene rests, by the movement of a few groups over the last frames: of one alone it is known to a tenth of
/// a sample, as the edges that strips are counted from have noise.
void EdgeMemory::find_resting(int side, Side& memory, std::vector<EdgeLine>& lines) const {
    const std::size_t count = memory.groups.size();
    for (std::size_t g = 0; g < count; ++g) {
        Motion& recent = memory.recent[g];
        if (memory.matched[g] == 0) {
            recent = {};
            memory.rests[g] = 0;
            continue;
        }
        const Motion now = movement_around(memory, g);
        recent.px += recency * (now.px - recent.px);
        recent.lines += recency * (now.lines - recent.lines);
        memory.rests[g] = recent.is_more_than(memory.rests[g] != 0 ? leaves_rest : comes_to_rest) ? 0 : 1;
        if (memory.rests[g] == 0) continue;
        for (std::size_t y = g * group_lines; y < std::min(lines.size(), (g + 1) * group_lines); ++y) {
            EdgeLine& line = lines[y];
            if (line.side == side || line.side == EdgeLine::both) line.rests[static_cast<std::size_t>(side)] = true;
        }
    }
}

/// The middle one of what groups say, each counted by how well it is known: things in front of the scene move
/// otherwise.
std::optional<float> EdgeMemory::moved_down(std::size_t parity) const {
    std::vector<Motion> said;  // with what each counts
    float all = 0;
    for (const Side& side : sides_[parity])
        for (std::size_t g = 0; g < side.matched.size(); ++g) {
            if (side.matched[g] == 0) continue;
            said.push_back({std::min(side.known[g].lines, enough_known), side.groups[g].lines});
            all += said.back().px;
        }
    if (all < fewest_groups * enough_known) return std::nullopt;
    std::ranges::sort(said, {}, &Motion::lines);
    float below = 0;
    for (const Motion& one : said)
        if (below += one.px; 2 * below >= all) return one.lines;
    return std::nullopt;
}

}  // namespace guardband::measure
