#include "measure/clip/noise_fit.h"

#include <algorithm>
#include <cmath>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

constexpr std::size_t fewest_points = 12, fewest_in_group = 10, most_groups = 10;
constexpr double lower_middle = 0.4;
/// Relative scatter of one block's variance about the truth, and what its lower middle is of its mean.
constexpr double block_scatter = 0.12, middle_of_mean = 0.965;
/// A group so much above the line has not been followed.
constexpr double most_above = 1.25;
constexpr int rounds = 6;
/// What the extrapolation may be wrong by.
constexpr double slope_doubt = 0.25;

struct Group {
    double variance, detail;
    bool counts = true;
};

std::vector<Group> groups_of(std::vector<NoisePoint>& points) {
    std::ranges::sort(points, {}, &NoisePoint::detail);
    const std::size_t count = std::clamp<std::size_t>(points.size() / fewest_in_group, 1, most_groups);
    std::vector<Group> groups;
    std::vector<float> variances;
    for (std::size_t g = 0; g < count; ++g) {
        const std::size_t from = g * points.size() / count, to = (g + 1) * points.size() / count;
        double detail = 0;
        variances.clear();
        for (std::size_t i = from; i < to; ++i)
            variances.push_back(points[i].variance), detail += static_cast<double>(points[i].detail);
        groups.push_back({dsp::quantile_in_place(std::span<float>(variances), lower_middle) / middle_of_mean,
                          detail / static_cast<double>(to - from)});
    }
    return groups;
}

struct Line {
    double start, slope;
    double at(double detail) const { return start + slope * detail; }
};

Line line_through(const std::vector<Group>& groups, const Line& before) {
    double n = 0, x = 0, y = 0, xx = 0, xy = 0;
    for (const Group& group : groups) {
        if (!group.counts) continue;
        const double level = std::max(before.at(group.detail), 1e-6), w = 1 / (level * level);
        n += w, x += w * group.detail, y += w * group.variance;
        xx += w * group.detail * group.detail, xy += w * group.detail * group.variance;
    }
    const double spread = xx - x * x / n;
    const double slope = spread > 1e-9 * xx ? std::max(0.0, (xy - x * y / n) / spread) : 0;
    return {(y - slope * x) / n, slope};
}

}  // namespace

std::optional<NoiseFit> fit_noise(std::vector<NoisePoint>& points) {
    if (points.size() < fewest_points) return std::nullopt;
    std::vector<Group> groups = groups_of(points);
    const double least = std::ranges::min(groups, {}, &Group::variance).variance;
    Line line{least, 0};
    double used = 0;
    for (int round = 0; round < rounds; ++round) {
        used = 0;
        for (Group& group : groups) {
            group.counts = group.variance <= most_above * line.at(group.detail) + 1e-9;
            used += group.counts ? 1 : 0;
        }
        if (used == 0) return std::nullopt;
        line = line_through(groups, line);
    }
    NoiseFit fit;
    fit.variance = std::max(0.0, line.start);
    fit.at_least_detail = groups.front().variance;
    const double of_points = used / static_cast<double>(groups.size()) * static_cast<double>(points.size());
    const double scatter = 2 * block_scatter * fit.variance / std::sqrt(of_points);
    const double reach = slope_doubt * std::max(0.0, line.at(groups.front().detail) - line.start);
    fit.error = std::hypot(scatter, reach);
    return fit;
}

}  // namespace guardband::measure
