// Which of a line's edges place it: the part of `PictureEdges` that weighs the edges of a field against each other.
#include <algorithm>
#include <cmath>
#include <limits>

#include "dsp/robust.h"
#include "measure/clip/head_switch.h"
#include "measure/clip/picture_edges.h"

namespace guardband::measure {
namespace {

/// By so many samples at most two edges may differ beyond `agreement_px`, for all their errors.
constexpr float most_apart_px = 3;
/// A lone edge must lie as near to where the lines around have it, samples, beyond what these scatter.
constexpr float nearness_px = 3;
/// Lines in the middle of a field go no steeper, samples per line: twice a wander of 5 µs at 27 Hz.
constexpr float steepest_px = 2;
/// Lines that tell whether the one between them is by itself are no further from it.
constexpr std::size_t near_islet = 3;
/// So many lines away others tell where a line should be.
constexpr int reach = 12;
/// Edges that are further apart than this many variances are less sure than they say.
constexpr float most_surprise = 9;
/// No flat picture is as high above blanking, 8-bit codes: something under the edge bends its fit, by the excess over
/// how steep edges are, heights per sample.
constexpr float most_height = 225, slope_of_edge = 0.25F;

}  // namespace

void PictureEdges::choose_sure() {
    for (EdgeLine& line : lines_) {
        if (!line.edges[0] || !line.edges[1]) continue;
        const float v0 = line.edges[0]->variance, v1 = line.edges[1]->variance;
        const float apart = line.moved[0] - line.moved[1];
        const float allowed = 3 * std::sqrt((v0 + v1) * static_cast<float>(scale_));
        if (std::abs(apart) > agreement_px + std::min(allowed, most_apart_px)) continue;
        line.side = EdgeLine::both;
        line.chosen = (line.moved[0] * v1 + line.moved[1] * v0) / (v0 + v1);
    }
}

/// Where lines above and below that have been chosen would have this one: nothing if there are none near.
std::optional<float> PictureEdges::expected(int line) const {
    const auto chosen = [this](int y) -> const EdgeLine* {
        if (y < 0 || y >= static_cast<int>(lines_.size())) return nullptr;
        const EdgeLine& one = lines_[static_cast<std::size_t>(y)];
        return one.side == EdgeLine::none ? nullptr : &one;
    };
    std::array<int, 2> one{-1, -1}, two{-1, -1};  // nearest and second nearest, above and below
    for (std::size_t way = 0; way < 2; ++way)
        for (int k = 1; k <= reach; ++k) {
            const int y = way == 0 ? line - k : line + k;
            if (!chosen(y)) continue;
            (one[way] < 0 ? one[way] : two[way]) = y;
            if (two[way] >= 0) break;
        }
    const auto value = [&](int y) { return chosen(y)->chosen; };
    if (one[0] >= 0 && one[1] >= 0) {
        const float share = static_cast<float>(line - one[0]) / static_cast<float>(one[1] - one[0]);
        return value(one[0]) + share * (value(one[1]) - value(one[0]));
    }
    for (std::size_t way = 0; way < 2; ++way) {
        if (one[way] < 0) continue;
        if (two[way] < 0) return value(one[way]);
        const float slope = (value(one[way]) - value(two[way])) / static_cast<float>(one[way] - two[way]);
        return value(one[way]) + slope * static_cast<float>(line - one[way]);
    }
    return std::nullopt;
}

/// Where a line would be if it were as far from the nearest line that has been chosen as a frame ago: a head switch
/// stays where it is, which the lines above it don't tell. Nothing if that isn't known.
std::optional<float> PictureEdges::expected_as_before(int line, const std::vector<float>& before) const {
    if (before.size() != lines_.size()) return std::nullopt;
    const float own = before[static_cast<std::size_t>(line)];
    for (int k = 1; k <= reach; ++k)
        for (const int y : {line - k, line + k}) {
            if (y < 0 || y >= static_cast<int>(lines_.size())) continue;
            const auto near = static_cast<std::size_t>(y);
            if (lines_[near].side == EdgeLine::none || std::isnan(before[near])) continue;
            return std::isnan(own) ? std::nullopt : std::optional(lines_[near].chosen + own - before[near]);
        }
    return std::nullopt;
}

/// Keeps where the lines were chosen to be for the next field of this parity.
void PictureEdges::keep_chosen(std::vector<float>& before) const {
    before.resize(lines_.size());
    for (std::size_t y = 0; y < lines_.size(); ++y)
        before[y] = lines_[y].side == EdgeLine::none ? std::numeric_limits<float>::quiet_NaN() : lines_[y].chosen;
}

/// Whether a line's other edge should be in the raster if one edge is displaced by so much.
bool PictureEdges::other_in_sight(std::size_t side, float moved_px) const {
    const double base = base_[1 - side];
    const auto moved = static_cast<double>(moved_px);
    return base != no_base && (side == 0 ? base - moved : base + moved) > shape_.rise_px();
}

/// Whether a line would lie far off the nearest that have been chosen above and below, as where something black stands
/// at the picture's edge and the first outline is that of its other side. At the top and after the head switch lines
/// may.
bool PictureEdges::is_islet(int line, std::size_t side, float gate_px) const {
    const int count = static_cast<int>(lines_.size());
    const auto chosen = [this](int y) { return lines_[static_cast<std::size_t>(y)].side != EdgeLine::none; };
    int above = line - 1, below = line + 1;
    while (above >= 0 && !chosen(above)) --above;
    while (below < count && !chosen(below)) ++below;
    if (above < 0) return false;
    const float moved_px = lines_[static_cast<std::size_t>(line)].moved[side];
    if (below >= count && line >= count - switch_zone) {  // unless the outline comes from further up
        const EdgeLine& last = lines_[static_cast<std::size_t>(std::max(0, count - switch_zone - 1))];
        return last.side == EdgeLine::none && last.edges[side] && std::abs(last.moved[side] - moved_px) < gate_px;
    }
    const auto is_far = [&](int y) {
        const float off = moved_px - lines_[static_cast<std::size_t>(y)].chosen;
        return std::abs(off) > gate_px + steepest_px * static_cast<float>(std::abs(line - y));
    };
    return is_far(above) && (below >= count || is_far(below));
}

/// Takes lone edges for none that lie far off the lines above and below, where these lie with each other: lines that a
/// head switch or flagging moves do so together.
void PictureEdges::drop_islets(float gate_px) {
    const auto chosen = [this](std::size_t y) { return lines_[y].side != EdgeLine::none; };
    for (std::size_t y = 1; y + 1 < lines_.size(); ++y) {
        if (!chosen(y) || lines_[y].side == EdgeLine::both) continue;
        std::size_t above = y - 1, below = y + 1;
        while (above > 0 && !chosen(above) && y - above < near_islet) --above;
        while (below + 1 < lines_.size() && !chosen(below) && below - y < near_islet) ++below;
        if (!chosen(above) || !chosen(below)) continue;
        const float slope = steepest_px * static_cast<float>(below - above), place = lines_[y].chosen;
        const float off_above = lines_[above].chosen - place, off_below = lines_[below].chosen - place;
        if (std::abs(off_above - off_below) < gate_px + slope &&
            std::min(std::abs(off_above), std::abs(off_below)) > 2 * gate_px + slope)
            lines_[y].side = EdgeLine::none;
    }
}

void PictureEdges::choose_rest(const EdgeRows& rows, const std::vector<float>& before) {
    // How far lines scatter about their neighbours: a lone edge may do so as well.
    spare_.clear();
    for (std::size_t y = 1; y < lines_.size(); ++y)
        if (lines_[y].side == EdgeLine::both && lines_[y - 1].side == EdgeLine::both)
            spare_.push_back(lines_[y].chosen - lines_[y - 1].chosen);
    const float scatter = spare_.size() > 10 ? static_cast<float>(dsp::spread(std::span<const float>(spare_))) : 3.0F;
    const float gate = nearness_px + 4 * scatter;
    const auto lone = [&](int y) {
        EdgeLine& line = lines_[static_cast<std::size_t>(y)];
        if (line.side != EdgeLine::none) return;
        const auto place = expected(y);
        if (!place) return;
        const float returning = expected_as_before(y, before).value_or(*place);
        const auto off = [&](float moved) { return std::min(std::abs(moved - *place), std::abs(moved - returning)); };
        float best = gate;
        for (int side = 0; side < 2; ++side) {
            const auto s = static_cast<std::size_t>(side);
            if (base_[s] == no_base) continue;
            const auto base = static_cast<float>(base_[s]);
            auto edge = line.edges[s];
            float moved = line.moved[s];
            if (!edge || off(moved) > gate) {
                edge = fit(rows, y, side, base + (side == 0 ? returning : -returning));
                if (edge) moved = side == 0 ? edge->place - base : base - edge->place;
            }
            const bool is_near = edge && off(moved) < best;
            // After the head switch a line may lie far off, and others yet support what was found first.
            if (is_near || y < rows.lines() - switch_zone) line.edges[s] = edge, line.moved[s] = moved;
            if (is_near) best = off(moved), line.side = side, line.chosen = moved;
        }
    };
    const auto moved = [&](int y, std::size_t side) -> std::optional<float> {
        if (y < 0 || y >= rows.lines()) return std::nullopt;
        const EdgeLine& one = lines_[static_cast<std::size_t>(y)];
        return one.edges[side] ? std::optional(one.moved[side]) : std::nullopt;
    };
    const auto lies_between = [&](int y, std::size_t side) {
        const auto above = moved(y - 1, side), here = moved(y, side), below = moved(y + 1, side);
        return above && here && below && std::abs(*here - (*above + *below) / 2) < gate;
    };
    // Lines with one edge that two others support by lying on a line with it, so that a missing edge does no harm.
    const auto seed = [&](int y) {
        EdgeLine& line = lines_[static_cast<std::size_t>(y)];
        if (line.side != EdgeLine::none) return;
        for (int side = 0; side < 2; ++side) {
            const auto s = static_cast<std::size_t>(side);
            if (!line.edges[s] || base_[s] == no_base) continue;
            if (other_in_sight(s, line.moved[s])) continue;  // it would have been seen, so this is none
            int support = 0;
            for (const int k : {-2, -1, 1, 2}) {
                const auto near = moved(y + k, s), far = moved(y + 2 * k, s);
                if (near && far && std::abs(line.moved[s] - (2 * *near - *far)) < 2 * gate) ++support;
            }
            // Of the three or four lines after a late head switch none has two such pairs.
            support += lies_between(y, s) ? 1 : 0;
            if (y >= rows.lines() - 4 && lies_between(rows.lines() - 2, s)) ++support;
            if (support >= 2 && !is_islet(y, s, gate)) {
                line.side = side, line.chosen = line.moved[s];
                return;
            }
        }
    };
    const int count = rows.lines();
    for (int pass = 0; pass < 2; ++pass) {
        for (int y = count - 1; y >= 0; --y) lone(y);
        for (int y = 0; y < count; ++y) lone(y);
        if (pass == 0)
            for (int y = 0; y < count; ++y) seed(y);
    }
    drop_islets(gate);
}

/// After the edges have been placed again.
void PictureEdges::rechoose() {
    for (EdgeLine& line : lines_) {
        if (line.side == EdgeLine::none) continue;
        for (auto& edge : line.edges)
            if (edge && edge->height > most_height) {
                const float excess = (edge->height - most_height) / (slope_of_edge * edge->height);
                edge->variance += excess * excess;
            }
        if (line.edges[0]) line.moved[0] = line.edges[0]->place - static_cast<float>(base_[0]);
        if (line.edges[1]) line.moved[1] = static_cast<float>(base_[1]) - line.edges[1]->place;
        if (line.side != EdgeLine::both) {
            line.chosen = line.moved[static_cast<std::size_t>(line.side)];
            continue;
        }
        float &v0 = line.edges[0]->variance, &v1 = line.edges[1]->variance;
        line.pair_variance = std::sqrt(v0 * v1) * static_cast<float>(scale_);
        const float apart = line.moved[0] - line.moved[1];
        const float surprise = apart * apart / (most_surprise * (v0 + v1) * static_cast<float>(scale_));
        if (surprise > 1) v0 *= surprise, v1 *= surprise;
        const float w0 = weight(line, 0, line.chosen), w1 = weight(line, 1, line.chosen);
        line.chosen = (line.moved[0] * w0 + line.moved[1] * w1) / (w0 + w1);
    }
}

}  // namespace guardband::measure
