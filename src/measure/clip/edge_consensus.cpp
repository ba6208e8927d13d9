#include "measure/clip/edge_consensus.h"

#include <algorithm>
#include <cmath>

#include "measure/clip/head_switch.h"

namespace guardband::measure {
namespace {

/// Steps that are less sure, per squared sample, say nothing here.
constexpr float least_step_weight = 1;
/// Edges and steps may differ by so many deviations and samples.
constexpr float most_deviations = 4, allowed_px = 1.5F;
/// What it costs: to leave out an edge, one of a line that shows both; to take the line's other one; an excess, per
/// sample; to take steps for false, and for each sample by which the edges jump further than these.
constexpr float lone_cost = 9, pair_cost = 30, other_cost = 3, excess_cost = 10, break_cost = 30, break_cost_per_px = 6;
/// Lines at the top that may jump as those after the head switch do.
constexpr std::size_t top_zone = 24;
/// So many edges in a row may be left out.
constexpr std::size_t most_left_out = 140;

}  // namespace

/// @param others  may be empty
void EdgeConsensus::gather(std::span<const float> pairs, std::span<const LineEvidence> others,
                           std::span<const LineEvidence> places, std::span<const LineEvidence> steps) {
    edges_.clear();
    lines_ = places.size();
    Edge edge;
    for (std::size_t i = 0; i < places.size(); ++i) {
        if (i > 0 && steps[i].weight < least_step_weight) ++edge.unknown_steps;
        if (i > 0 && steps[i].weight >= least_step_weight)
            edge.steps_px += static_cast<double>(steps[i].place_px),
                edge.steps_variance += 1 / static_cast<double>(steps[i].weight);
        if (places[i].weight <= 0) continue;
        edge.line = i, edge.place = places[i], edge.cost_in = 0;
        edge.cost_out = std::isnan(pairs[i]) ? lone_cost : pair_cost;
        edges_.push_back(edge);
        if (!others.empty() && others[i].weight > 0) {
            edge.place = others[i], edge.cost_in = other_cost;
            edges_.push_back(edge);
        }
        edge.out_before += edge.cost_out;
    }
}

/// By how much two edges are further off what the steps between them say than their errors allow, samples.
float EdgeConsensus::over(const Edge& above, const Edge& edge) const {
    if (above.unknown_steps != edge.unknown_steps) return 0;
    const float off = edge.place.place_px - above.place.place_px - static_cast<float>(edge.steps_px - above.steps_px);
    if (std::abs(off) <= allowed_px) return 0;
    const float variance =
        1 / above.place.weight + 1 / edge.place.weight + static_cast<float>(edge.steps_variance - above.steps_variance);
    return std::max(0.0F, std::abs(off) - allowed_px - most_deviations * std::sqrt(variance));
}

float EdgeConsensus::cost_of_jump(const Edge& above, const Edge& edge, bool& is_break) const {
    is_break = false;
    const float excess = over(above, edge);
    if (excess <= 0) return 0;
    const bool may_jump = above.line < top_zone || edge.line + switch_zone >= lines_;
    // Where it is the edges that jump and not the steps, the edges are more likely to be false.
    const float further = std::max(0.0F, std::abs(edge.place.place_px - above.place.place_px) -
                                             std::abs(static_cast<float>(edge.steps_px - above.steps_px)));
    const float most = break_cost + (may_jump ? 0 : break_cost_per_px * further);
    is_break = excess_cost * excess > most;
    return std::min(excess_cost * excess, most);
}

bool EdgeConsensus::all_agree() const {
    for (std::size_t i = 1; i < edges_.size(); ++i)
        if (over(edges_[i - 1], edges_[i]) > 0) return false;
    return true;
}

void EdgeConsensus::find_ways() {
    bool unused = false;
    for (std::size_t i = 0; i < edges_.size(); ++i) {
        Edge& edge = edges_[i];
        edge.cost = edge.out_before + edge.cost_in, edge.before = 0;
        const std::size_t first = i > most_left_out ? i - most_left_out : 0;
        for (std::size_t k = i; k-- > first;) {
            const Edge& above = edges_[k];
            if (above.line == edge.line) continue;
            const float least = above.cost + edge.out_before - above.out_before - above.cost_out + edge.cost_in;
            if (least >= edge.cost) continue;
            const float cost = least + cost_of_jump(above, edge, unused);
            if (cost < edge.cost) edge.cost = cost, edge.before = k + 1;
        }
    }
}

/// Counted from 1.
std::size_t EdgeConsensus::last_of_best_way() const {
    const float out = edges_.back().out_before + edges_.back().cost_out;
    std::size_t last = 0;
    float least = out;
    for (std::size_t i = 0; i < edges_.size(); ++i) {
        const float cost = edges_[i].cost + out - edges_[i].out_before - edges_[i].cost_out;
        if (cost < least) least = cost, last = i + 1;
    }
    return last;
}

void EdgeConsensus::settle(std::span<const float> pairs, std::span<const LineEvidence> others,
                           std::vector<LineEvidence>& places, std::vector<LineEvidence>& steps,
                           const LineEvidence& unknown) {
    gather(pairs, {}, places, steps);
    if (all_agree()) return;
    gather(pairs, others, places, steps);
    find_ways();
    for (LineEvidence& one : places) one.weight = 0;
    for (std::size_t now = last_of_best_way(); now > 0; now = edges_[now - 1].before) {
        const Edge& edge = edges_[now - 1];
        places[edge.line] = edge.place;
        if (edge.before == 0) continue;
        const Edge& above = edges_[edge.before - 1];
        bool is_break = false;
        cost_of_jump(above, edge, is_break);
        if (!is_break) continue;
        for (std::size_t i = above.line + 1; i <= edge.line; ++i) steps[i] = unknown;
    }
}

}  // namespace guardband::measure
