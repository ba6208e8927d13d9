#include "measure/waveform/sync_pulse.h"

#include <algorithm>
#include <cmath>
#include <span>
#include <vector>

namespace guardband::measure {
namespace {

/// The filtered samples around a pulse, by their place in the stream.
class Neighbourhood {
public:
    Neighbourhood(std::int64_t first, std::span<const float> values) : first_(first), values_(values) {}

    std::optional<float> mean(double from, double to) const {
        const std::int64_t a = static_cast<std::int64_t>(std::ceil(from)) - first_;
        const std::int64_t b = static_cast<std::int64_t>(std::floor(to)) - first_ + 1;
        if (a < 0 || b > static_cast<std::int64_t>(values_.size()) || a >= b) return std::nullopt;
        double sum = 0;
        for (std::int64_t i = a; i < b; ++i) sum += values_[static_cast<std::size_t>(i)];
        return static_cast<float>(sum / static_cast<double>(b - a));
    }

    /// Where a level is crossed in a direction (−1 falling, +1 rising), nearest to `near`, at most `reach` away.
    std::optional<double> crossing(float level, float direction, double near, double reach) const {
        std::optional<double> best;
        const auto from = std::max<std::int64_t>(1, static_cast<std::int64_t>(near - reach) - first_);
        const auto to = std::min(static_cast<std::int64_t>(values_.size()) - 3,
                                 static_cast<std::int64_t>(near + reach) + 1 - first_);
        for (std::int64_t i = from; i <= to; ++i) {
            const float before = direction * (at(i) - level), after = direction * (at(i + 1) - level);
            if (!(before < 0 && after >= 0)) continue;
            const double place = static_cast<double>(first_ + i) + cubic_zero(i, level);
            if (!best || std::abs(place - near) < std::abs(*best - near)) best = place;
        }
        return best;
    }

private:
    float at(std::int64_t i) const { return values_[static_cast<std::size_t>(i)]; }

    /// Where the cubic through four neighbours passes a level between the middle two, 0 to 1.
    double cubic_zero(std::int64_t i, float level) const {
        const double a = at(i - 1) - level, b = at(i) - level, c = at(i + 1) - level, d = at(i + 2) - level;
        const double c1 = -a / 3 - b / 2 + c - d / 6, c2 = a / 2 - b + c / 2, c3 = (d - a) / 6 + (b - c) / 2;
        double t = b / (b - c);
        for (int round = 0; round < 3; ++round) {
            const double slope = c1 + t * (2 * c2 + t * 3 * c3);
            if (slope == 0) break;
            t = std::clamp(t - (b + t * (c1 + t * (c2 + t * c3))) / slope, 0.0, 1.0);
        }
        return t;
    }

    std::int64_t first_;
    std::span<const float> values_;
};

constexpr double front_from_us = -0.7,
                 front_to_us = -0.42;            ///< close: a porch may be short, and a white picture before it
constexpr double settled_us = 0.5;               ///< from an edge on the filter has settled
constexpr double level_us = 1.5, back_us = 2.5;  ///< length of the stretches that levels are taken from
constexpr double edge_reach_us = 0.6;

}  // namespace

std::optional<SyncPulse> timed_pulse(const SampleWindow& window, const SyncFilter& filter, double start, double end,
                                     double us, std::vector<float>& scratch) {
    const auto first = static_cast<std::int64_t>(std::floor(start - read_before_us * us));
    const auto last = static_cast<std::int64_t>(std::ceil(end + read_after_us * us));
    scratch.resize(static_cast<std::size_t>(last - first + 1));
    if (!filter.filter(window, first, 1, scratch)) return std::nullopt;
    const Neighbourhood near(first, scratch);
    const double width = end - start;
    const double half = std::max(0.25 * us, std::min(level_us * us, width - 2 * settled_us * us));
    const auto front = near.mean(start + front_from_us * us, start + front_to_us * us);
    const auto early = near.mean(start + settled_us * us, start + settled_us * us + half);
    const auto late = near.mean(end - settled_us * us - half, end - settled_us * us);
    const auto back = near.mean(end + settled_us * us, end + (settled_us + back_us) * us);
    if (!front || !early || !late || !back) return std::nullopt;
    const auto lead = near.crossing((*front + *early) / 2, -1, start, edge_reach_us * us);
    const auto trail = near.crossing((*late + *back) / 2, 1, end, edge_reach_us * us);
    if (!lead || !trail) return std::nullopt;
    return SyncPulse{*lead, *trail, *front, (*early + *late) / 2, *back};
}

}  // namespace guardband::measure
