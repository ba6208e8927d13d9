#include "measure/sound/speed_stretch.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

constexpr double least_level_share = 0.35;  ///< −9 dB: below, noise takes part in the phase
constexpr double greatest_deviation = 0.2;
constexpr double longest_bridge_s = 0.3;
constexpr double filter_ring_s = 0.01;  ///< the demodulator's filter spreads a fault by this to either side
constexpr std::size_t most_events = 100;

struct Run {
    std::size_t from, to;  ///< one past the last
};

/// Runs of worthless values, widened by the filter's ring and joined where they then meet.
std::vector<Run> bad_runs(const SpeedSeries& series) {
    const double least = least_level_share * dsp::median(series.level);
    const auto ring = static_cast<std::size_t>(filter_ring_s * series.rate_hz);
    std::vector<Run> runs;
    for (std::size_t i = 0; i < series.level.size(); ++i) {
        if (series.level[i] >= least && std::abs(series.deviation[i]) <= greatest_deviation) continue;
        const std::size_t from = i - std::min(i, ring), to = std::min(i + ring + 1, series.level.size());
        if (!runs.empty() && from <= runs.back().to)
            runs.back().to = to;
        else
            runs.push_back({from, to});
    }
    return runs;
}

double time_of(const SpeedSeries& series, std::size_t index) {
    return series.start_s + static_cast<double>(index) / series.rate_hz;
}

quantity::Event event_of(const SpeedSeries& series, const Run& run, bool bridged) {
    quantity::Event event;
    event.kind = bridged ? "dropout" : "no tone";
    event.severity = quantity::Severity::Warning;
    event.time_s = time_of(series, run.from);
    event.what = fmt::format("{} for {:.0f} ms{}", bridged ? "the tone fails" : "no steady tone",
                             1e3 * static_cast<double>(run.to - run.from) / series.rate_hz, bridged ? ", bridged" : "");
    return event;
}

/// What lies between the bad runs that are too long to bridge; the longest of it.
Run longest_between(const std::vector<Run>& runs, std::size_t count, std::size_t longest_bridge) {
    Run best{0, 0}, current{0, count};
    const auto end_at = [&](std::size_t end) {
        if (end > current.from && end - current.from > best.to - best.from) best = {current.from, end};
    };
    for (const Run& run : runs) {
        const bool at_an_end = run.from == current.from || run.to == count;
        if (run.to - run.from <= longest_bridge && !at_an_end) continue;
        end_at(run.from);
        current.from = run.to;
    }
    end_at(count);
    return best;
}

void bridge(std::vector<float>& values, const Run& run) {
    const float before = values[run.from - 1], after = values[run.to];
    const auto steps = static_cast<float>(run.to - run.from + 1);
    for (std::size_t i = run.from; i < run.to; ++i)
        values[i] = before + (after - before) * static_cast<float>(i - run.from + 1) / steps;
}

}  // namespace

SpeedStretch longest_stretch(const SpeedSeries& series) {
    SpeedStretch stretch;
    stretch.rate_hz = series.rate_hz;
    if (series.level.empty()) return stretch;
    const std::vector<Run> runs = bad_runs(series);
    const auto longest = static_cast<std::size_t>(longest_bridge_s * series.rate_hz);
    const Run kept = longest_between(runs, series.level.size(), longest);
    std::vector<float> values = series.deviation;
    for (const Run& run : runs) {
        const bool inside = run.from > kept.from && run.to < kept.to;
        if (inside) bridge(values, run);
        if (stretch.events.size() < most_events && run.to < series.level.size() && run.from > 0)
            stretch.events.push_back(event_of(series, run, inside));
    }
    stretch.start_s = time_of(series, kept.from);
    stretch.deviation.assign(values.begin() + static_cast<std::ptrdiff_t>(kept.from),
                             values.begin() + static_cast<std::ptrdiff_t>(kept.to));
    return stretch;
}

}  // namespace guardband::measure
