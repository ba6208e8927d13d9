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
/// What it costs: to leave out an edge, one of a line that shows both; an excess, per sample; to take steps for false,
/// and for each sample by which the edges jump further than these.
constexpr float lone_cost = 9, pair_cost = 30, excess_cost = 10, break_cost = 30, break_cost_per_px = 6;
/// Lines at the top that may jump as those after the head switch do.
constexpr std::size_t top_zone = 24;
/// So many edges in a row may be left out.
constexpr std::size_t most_left_out = 140;

}  // namespace

void EdgeConsensus::gather(std::span<const float> pairs, std::span<const LineEvidence> places,
                           std::span<const LineEvidence> steps) {
    edges_.clear();
    lines_ = places.size();
    double sum = 0, variance = 0;
    float out = 0;
    int unknown = 0;
    for (std::size_t i = 0; i < places.size(); ++i) {
        if (i > 0 && steps[i].weight < least_step_weight) ++unknown;
        if (i > 0 && steps[i].weight >= least_step_weight)
            sum += static_cast<double>(steps[i].place_px), variance += 1 / static_cast<double>(steps[i].weight);
        if (places[i].weight <= 0) continue;
        Edge& edge = edges_.emplace_back();
        edge.line = i, edge.place_px = places[i].place_px, edge.variance = 1 / places[i].weight;
        edge.cost_out = std::isnan(pairs[i]) ? lone_cost : pair_cost;
        edge.steps_px = sum, edge.steps_variance = variance, edge.unknown_steps = unknown;
        edge.out_before = out, out += edge.cost_out;
    }
}

/// By how much two edges are further off what the steps between them say than their errors allow, samples.
float EdgeConsensus::over(const Edge& above, const Edge& edge) const {
    if (above.unknown_steps != edge.unknown_steps) return 0;
    const float off = edge.place_px - above.place_px - static_cast<float>(edge.steps_px - above.steps_px);
    if (std::abs(off) <= allowed_px) return 0;
    const float variance =
        above.variance + edge.variance + static_cast<float>(edge.steps_variance - above.steps_variance);
    return std::max(0.0F, std::abs(off) - allowed_px - most_deviations * std::sqrt(variance));
}

float EdgeConsensus::cost_of_jump(const Edge& above, const Edge& edge, bool& is_break) const {
    is_break = false;
    const float excess = over(above, edge);
    if (excess <= 0) return 0;
    const bool may_jump = above.line < top_zone || edge.line + switch_zone >= lines_;
    // Where it is the edges that jump and not the steps, the edges are more likely to be false.
    const float further = std::max(
        0.0F, std::abs(edge.place_px - above.place_px) - std::abs(static_cast<float>(edge.steps_px - above.steps_px)));
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
        edge.cost = edge.out_before, edge.before = 0;
        const std::size_t first = i > most_left_out ? i - most_left_out : 0;
        for (std::size_t k = i; k-- > first;) {
            const Edge& above = edges_[k];
            const float left_out = edge.out_before - above.out_before - above.cost_out;
            if (above.cost + left_out >= edge.cost) continue;
            const float cost = above.cost + left_out + cost_of_jump(above, edge, unused);
            if (cost < edge.cost) edge.cost = cost, edge.before = k + 1;
        }
    }
}

void EdgeConsensus::settle(std::span<const float> pairs, std::vector<LineEvidence>& places,
                           std::vector<LineEvidence>& steps, const LineEvidence& unknown) {
    gather(pairs, places, steps);
    if (all_agree()) return;
    find_ways();
    const float out = edges_.back().out_before + edges_.back().cost_out;
    std::size_t last = 0;
    float least = 1e30F;
    for (std::size_t i = 0; i < edges_.size(); ++i) {
        const float cost = edges_[i].cost + out - edges_[i].out_before - edges_[i].cost_out;
        if (cost < least) least = cost, last = i + 1;
    }
    std::size_t kept = edges_.size() + 1;  // counted from 1, as `before`
    for (std::size_t now = last; now > 0; now = edges_[now - 1].before) {
        for (std::size_t i = now + 1; i < kept; ++i) places[edges_[i - 1].line].weight = 0;
        kept = now;
        const Edge& edge = edges_[now - 1];
        if (edge.before == 0) continue;
        const Edge& above = edges_[edge.before - 1];
        bool is_break = false;
        cost_of_jump(above, edge, is_break);
        if (is_break)
            std::fill(steps.begin() + static_cast<std::ptrdiff_t>(above.line) + 1,
                      steps.begin() + static_cast<std::ptrdiff_t>(edge.line) + 1, unknown);
    }
    for (std::size_t i = 1; i < kept; ++i) places[edges_[i - 1].line].weight = 0;
}

}  // namespace guardband::measure
