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

    /// Sum of the weighted squares of the slots about their segments' means.
    double across() {
        close();
        return sum_across_;
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

/// Variance of the slope if the blocks' distances are independent of one another.
double independent_variance(std::span<const Block> blocks, const Line& line) {
    Slope spread;
    double squares = 0, slots = 0;
    for (std::size_t i = 0; i < blocks.size(); ++i) {
        squares += line.weights[i] * line.distances[i] * line.distances[i];
        if (line.weights[i] > 0) ++slots;
        spread.add(blocks[i], line.weights[i]);
    }
    const double across = spread.across();
    return slots > 2 && across > 0 ? squares / (slots - 2) / across : 0;
}

/// Variance of the slope as it scatters when one of some groups of neighbours is left out; sees what wanders slowly.
double jackknife_variance(std::span<const Block> blocks, const Line& line) {
    const std::size_t groups = std::min(jackknife_groups, blocks.size());
    double squares = 0, slopes = 0;
    for (std::size_t g = 0; g < groups; ++g) {
        const auto without = slope(blocks, line.weights, g * blocks.size() / groups, (g + 1) * blocks.size() / groups);
        if (without) squares += (*without - line.slope) * (*without - line.slope), ++slopes;
    }
    return slopes > 2 ? squares * (slopes - 1) / slopes : 0;
}

/// Greatest error of the slope, ticks, that rounding may hide without a trace, as a standard deviation. A period near
/// the fraction m/k of ticks makes a rounding error that repeats every k stamps and slides by 1/k tick before it
/// repeats itself in other places. As long as it hasn't slid once, the period may be off by what the two end stamps
/// hide, each uniform over 1/k tick; after c slides the error falls as 1/c (a saw tooth's share of a straight line).
double hidden_rounding(double period_ticks, double span_slots) {
    constexpr int longest_pattern = 32;  // beyond, what it hides is below what independent rounding errors leave
    double hidden = 0;
    for (int k = 1; k <= longest_pattern; ++k) {
        const double slides = std::abs(std::remainder(k * period_ticks, 1.0)) * span_slots;
        hidden = std::max(hidden, std::min(1 / std::sqrt(6.0), 0.5 / slides) / (k * span_slots));
    }
    return hidden;
}

/// Variance of the slope from rounding that does not go through its range at random. Noise on the stamps before they
/// were rounded makes it random.
double rounding_variance(std::span<const Block> blocks, const Line& line, double period_ticks) {
    const double span_slots = blocks.back().slot - blocks.front().slot;
    const double square = typical_square(blocks, line.distances);
    if (period_ticks < RateFit::least_clock_ticks && square < 1e-9) return 0;  // stamps that count frames are exact
    const double uniform_ticks = 12 * square;                                  // about 1 if rounding is all there is
    const double share = std::clamp(2 - uniform_ticks, 0.0, 1.0);
    const double hidden = hidden_rounding(period_ticks, span_slots);
    return share * hidden * hidden;
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
    const double period_ticks = expected_period_ + line->slope;
    const double scatter = std::max(independent_variance(blocks_, *line), jackknife_variance(blocks_, *line));
    return Period{period_ticks, std::sqrt(scatter + rounding_variance(blocks_, *line, period_ticks))};
}

}  // namespace guardband::measure
