#include "measure/clip/rate_fit.h"

#include <algorithm>
#include <cmath>
#include <span>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

using Block = RateFit::Block;

/// Enough that one bad stretch of some seconds in an hour stands alone in its block; small enough to fit in cache.
constexpr std::size_t most_blocks = 1024;
/// Groups of the jackknife: each must be long against the wander of the stamps, and they must be enough for an
/// uncertainty good to some 15 %.
constexpr std::size_t jackknife_groups = 20;
/// Blocks further from the line than this many standard deviations have no say. Tukey's 4.7 keeps 95 % efficiency on
/// normal noise; rounded stamps are not normal, and wider costs little against the gross errors this is for.
constexpr double biweight_reach = 6;
constexpr int most_rounds = 30;

Block joined(const Block& a, const Block& b) {
    const double count = a.count + b.count, between = b.rest - a.rest;
    return {count, (a.count * a.slot + b.count * b.slot) / count, (a.count * a.rest + b.count * b.rest) / count,
            a.segment, a.squares + b.squares + between * between * a.count * b.count / count};
}

/// A straight line's slope where each segment has its own offset: sums about each segment's weighted mean.
class Slope {
public:
    /// Blocks must come segment by segment.
    void add(const Block& block, double weight) {
        if (block.segment != segment_) close(), segment_ = block.segment;
        if (weight <= 0) return;
        weight_ += weight;
        const double from_mean = block.slot - slot_, rest_from_mean = block.rest - rest_;
        slot_ += from_mean * weight / weight_;
        rest_ += rest_from_mean * weight / weight_;
        across_ += weight * from_mean * (block.slot - slot_);
        along_ += weight * from_mean * (block.rest - rest_);
    }

    /// Nothing if all weight stands at one slot in each segment.
    std::optional<double> value() {
        close();
        if (sum_across_ <= 0) return std::nullopt;
        return sum_along_ / sum_across_;
    }

private:
    void close() {
        sum_across_ += across_, sum_along_ += along_;
        weight_ = slot_ = rest_ = across_ = along_ = 0;
    }

    std::int64_t segment_ = 0;
    double weight_ = 0, slot_ = 0, rest_ = 0, across_ = 0, along_ = 0;
    double sum_across_ = 0, sum_along_ = 0;
};

std::optional<double> slope(std::span<const Block> blocks, std::span<const double> weights,
                            std::size_t left_out_from = 0, std::size_t left_out_to = 0) {
    Slope slope;
    for (std::size_t i = 0; i < blocks.size(); ++i)
        slope.add(blocks[i], i >= left_out_from && i < left_out_to ? 0 : weights[i]);
    return slope.value();
}

/// Distances of the blocks from the line of this slope, each segment's line through its weighted median-like centre
/// (its weighted mean).
std::vector<double> residuals(std::span<const Block> blocks, std::span<const double> weights, double slope_ticks) {
    std::vector<double> result(blocks.size());
    for (std::size_t from = 0; from < blocks.size();) {
        std::size_t to = from;
        double weight = 0, sum = 0;
        for (; to < blocks.size() && blocks[to].segment == blocks[from].segment; ++to) {
            result[to] = blocks[to].rest - slope_ticks * blocks[to].slot;
            weight += weights[to], sum += weights[to] * result[to];
        }
        const double offset = weight > 0 ? sum / weight : result[from];
        for (; from < to; ++from) result[from] -= offset;
    }
    return result;
}

/// Standard deviation that the blocks' distances give for a single stamp, if stamps are independent; from their median
/// magnitude.
double spread_of_distances(std::span<const Block> blocks, std::span<const double> distances) {
    std::vector<double> magnitudes(blocks.size());
    for (std::size_t i = 0; i < blocks.size(); ++i) magnitudes[i] = std::abs(distances[i]) * std::sqrt(blocks[i].count);
    constexpr double median_to_sigma = 1.4826;  // of a normal distribution
    return median_to_sigma * dsp::median(magnitudes);
}

/// Mean square of single stamps' distances from the line: the median over blocks.
double typical_square(std::span<const Block> blocks, std::span<const double> distances) {
    std::vector<double> squares(blocks.size());
    for (std::size_t i = 0; i < blocks.size(); ++i)
        squares[i] = blocks[i].squares / blocks[i].count + distances[i] * distances[i];
    return dsp::median(squares);
}

std::vector<double> biweights(std::span<const Block> blocks, std::span<const double> distances, double spread) {
    std::vector<double> weights(blocks.size());
    for (std::size_t i = 0; i < blocks.size(); ++i) {
        const double u = distances[i] * std::sqrt(blocks[i].count) / (biweight_reach * spread);
        weights[i] = std::abs(u) < 1 ? blocks[i].count * (1 - u * u) * (1 - u * u) : 0;
    }
    return weights;
}

struct Line {
    double slope = 0;
    std::vector<double> weights, distances;
};

/// Least squares first, then with less and less say for what lies off the line. `floor_spread`: stamps are never surer
/// than their rounding.
std::optional<Line> fit(std::span<const Block> blocks, double floor_spread) {
    Line line;
    for (const Block& block : blocks) line.weights.push_back(block.count);
    for (int round = 0; round < most_rounds; ++round) {
        const auto next = slope(blocks, line.weights);
        if (!next) return std::nullopt;
        const bool settled = round > 0 && std::abs(*next - line.slope) < 1e-12;
        line.slope = *next;
        line.distances = residuals(blocks, line.weights, line.slope);
        if (settled) break;
        line.weights =
            biweights(blocks, line.distances, std::max(spread_of_distances(blocks, line.distances), floor_spread));
    }
    return line;
}

double jackknife_variance(std::span<const Block> blocks, const Line& line) {
    const std::size_t groups = std::min(jackknife_groups, blocks.size());
    std::vector<double> slopes;
    for (std::size_t g = 0; g < groups; ++g)
        if (const auto without =
                slope(blocks, line.weights, g * blocks.size() / groups, (g + 1) * blocks.size() / groups))
            slopes.push_back(*without);
    if (slopes.size() < 3) return 0;
    double sum = 0;
    for (const double value : slopes) sum += (value - line.slope) * (value - line.slope);
    return sum * static_cast<double>(slopes.size() - 1) / static_cast<double>(slopes.size());
}

/// Variance of the slope from rounding that the distances don't show. Where stamps fall on whole ticks all along, the
/// true period may differ by what the two end stamps could hide. Where the rounding error goes through its range,
/// distances have a tick's uniform spread and show it by themselves.
double hidden_rounding_variance(std::span<const Block> blocks, const Line& line) {
    const double span = blocks.back().slot - blocks.front().slot;
    // 1 for a tick's uniform spread; its median over single stamps is 0.75, and a fit to few stamps takes some of it
    // away.
    const double shown = 12 * typical_square(blocks, line.distances);
    const double share_hidden = std::clamp((0.6 - shown) / 0.3, 0.0, 1.0);
    return share_hidden / (6 * span * span);  // two ends, each uniform over a tick
}

}  // namespace

void RateFit::add(double slot, double ticks, std::int64_t segment) {
    const double rest = ticks - slot * expected_period_;
    if (!blocks_.empty() && blocks_.back().segment == segment && blocks_.back().count < block_size_) {
        blocks_.back() = joined(blocks_.back(), {1, slot, rest, segment});
        return;
    }
    if (blocks_.size() == most_blocks) make_room();
    blocks_.push_back({1, slot, rest, segment});
}

void RateFit::make_room() {
    block_size_ *= 2;
    std::vector<Block> kept;
    kept.reserve(most_blocks);
    for (const Block& block : blocks_) {
        const bool joins =
            !kept.empty() && kept.back().segment == block.segment && kept.back().count + block.count <= block_size_;
        if (joins)
            kept.back() = joined(kept.back(), block);
        else
            kept.push_back(block);
    }
    // So many interruptions that nothing joins: let go of the older half; what is left still has the rate.
    if (kept.size() == most_blocks) kept.erase(kept.begin(), kept.begin() + most_blocks / 2);
    blocks_ = std::move(kept);
}

std::optional<RateFit::Period> RateFit::period() const {
    constexpr double rounding_spread = 0.29;  // of a tick: 1/√12
    if (blocks_.size() < 2) return std::nullopt;
    const auto line = fit(blocks_, rounding_spread);
    if (!line) return std::nullopt;
    const double variance = jackknife_variance(blocks_, *line) + hidden_rounding_variance(blocks_, *line);
    return Period{expected_period_ + line->slope, std::sqrt(variance)};
}

}  // namespace guardband::measure
