#include "measure/waveform/test_lines.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>
#include <span>
#include <utility>
#include <vector>

#include "measure/waveform/noise_bias.h"
#include "measure/waveform/test_signals.h"

namespace guardband::measure {
namespace {

/// K of a 2T pulse: the largest of its echoes, each against the mask.
struct Echoes {
    double k = 0, noise = 0;  ///< shares of the pulse
};

Echoes echoes_of(std::span<const double> level, double middle, double samples_per_us, double t_us, double reach_us) {
    const auto at = [&](double place) {
        const auto i = static_cast<std::size_t>(place);
        const double f = place - static_cast<double>(i);
        const double a = level[i - 1], b = level[i], c = level[i + 1], d = level[i + 2];  // Lagrange's cubic
        const double c1 = -a / 3 - b / 2 + c - d / 6, c2 = a / 2 - b + c / 2, c3 = (d - a) / 6 + (b - c) / 2;
        return b + f * (c1 + f * (c2 + f * c3));
    };
    const auto top = static_cast<std::size_t>(std::lround(middle));
    const double a = level[top - 1], b = level[top], c = level[top + 1];
    const double height = b + (a - c) * (a - c) / 8 / std::max(1e-12, 2 * b - a - c);
    Echoes echoes;
    double squares = 0;
    int n = 0;
    const double t = t_us * samples_per_us;
    const auto hold = [&](double from_middle, double value) {
        const double in_t = std::abs(from_middle) / t, mask = in_t < 4   ? 4 - (in_t - 2)
                                                              : in_t < 8 ? 2 - (in_t - 4) / 4
                                                                         : 1;
        echoes.k = std::max(echoes.k, std::abs(value) / height / mask);
    };
    // The pulse ends at 2T in a kink that nothing smooth can be laid through: samples alone there, curves further out.
    for (double x = 3 * t; x <= reach_us * samples_per_us; x += 0.25)
        for (const double side : {-1.0, 1.0}) hold(side * x, at(middle + side * x));
    for (double i = std::ceil(middle - 3 * t); i <= middle + 3 * t; ++i)
        if (std::abs(i - middle) >= 2 * t) hold(i - middle, level[static_cast<std::size_t>(i)]);
    for (auto i = static_cast<std::size_t>(middle + 4 * t);
         i < static_cast<std::size_t>(middle + reach_us * samples_per_us) - 1; ++i, ++n) {
        const double bend = level[i - 1] - 2 * level[i] + level[i + 1];
        squares += bend * bend / 6;
    }
    echoes.noise = n > 0 ? std::sqrt(squares / n) / height : 0;
    return echoes;
}

/// What a time base adds to the uncertainty of a phase is said from here on.
constexpr double least_turned_deg = 1;

struct Findings {
    std::vector<std::pair<const AveragedLine*, TestSignals>> all;
    double noise_variance = 0;

    double samples_per_us = 1;

    /// Deviation of the mean over a tread; the Gaussian that smooths the line reaches beyond its ends.
    double on_tread(const AveragedLine& line, const Staircase& stairs) const {
        const auto n = static_cast<double>(stairs.treads.front().end - stairs.treads.front().begin);
        const double beyond = 2 * AlignedLines::smooth_us * samples_per_us / std::sqrt(std::numbers::pi) / n;
        return std::sqrt(noise_variance * std::max(0.5, 1 - beyond) / n / static_cast<double>(line.count));
    }
};

using Found = std::pair<const AveragedLine*, TestSignals>;

/// Largest less smallest of the steps from level to level, over the largest.
double unevenness(std::span<const double> levels) {
    double largest = 0, smallest = std::numeric_limits<double>::max();
    for (std::size_t k = 1; k < levels.size(); ++k) {
        largest = std::max(largest, levels[k] - levels[k - 1]);
        smallest = std::min(smallest, levels[k] - levels[k - 1]);
    }
    return largest > 0 ? (largest - smallest) / largest : 0;
}

double range(std::span<const double> values) {
    const auto [low, high] = std::ranges::minmax(values);
    return high - low;
}

/// Largest less smallest of values that noise scatters.
double range_without_noise(const std::vector<double>& values, double deviation) {
    const double mean = std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
    return without_noise_bias(values, std::vector<double>(values.size(), mean), deviation, true, range);
}

void add_nonlinearity(quantity::Figures& figures, const Findings& found) {
    using quantity::Figure;
    const Found* from = nullptr;
    for (const bool coloured : {true, false})  // one without colour is the better
        for (const Found& entry : found.all)
            if (entry.second.staircase && entry.second.coloured_staircase == coloured) from = &entry;
    if (from == nullptr) {
        figures.add("luma_nonlinearity", Figure::unknown("no line of the field interval carries a staircase"));
        return;
    }
    const Staircase& stairs = *from->second.staircase;
    std::vector<double> levels, even;
    for (const Staircase::Tread& tread : stairs.treads) levels.push_back(tread.level);
    const double step = (levels.back() - levels.front()) / static_cast<double>(levels.size() - 1);
    for (std::size_t k = 0; k < levels.size(); ++k) even.push_back(levels.front() + static_cast<double>(k) * step);
    const double noise = found.on_tread(*from->first, stairs);
    figures.add("luma_nonlinearity", Figure::measured(100 * without_noise_bias(levels, even, noise, true, unevenness),
                                                      std::hypot(0.1, 300 * noise / step), "%")
                                         .with_note("of five steps"));
}

/// By how many degrees a time base that moves from line to line turns the subcarrier from the first tread to the last,
/// in the mean of the lines.
double turned_by_time_base(const quantity::Figures& figures, const AlignedLines& lines, const Found& from) {
    const quantity::Figure* jitter = figures.find("line_jitter_rms");
    const quantity::Figure* rate = figures.find("line_rate");
    if (jitter == nullptr || rate == nullptr || !jitter->number() || !rate->number()) return 0;
    const Staircase& stairs = *from.second.staircase;
    const double span_us =
        static_cast<double>(stairs.treads.back().begin - stairs.treads.front().begin) / lines.samples_per_us();
    const double moved_s = std::numbers::sqrt2 * 1e-9 * *jitter->number() * span_us * 1e-6 * *rate->number();
    return 360 * lines.subcarrier_hz() * moved_s / std::sqrt(static_cast<double>(from.first->count));
}

void add_differential(quantity::Figures& figures, const AlignedLines& lines, const Findings& found) {
    using quantity::Figure;
    const Found* from = nullptr;
    for (const Found& entry : found.all)
        if (entry.second.staircase && entry.second.coloured_staircase) from = &entry;
    if (from == nullptr) {
        for (const char* id : {"differential_gain", "differential_phase"})
            figures.add(id, Figure::unknown("no line of the field interval carries a staircase with subcarrier"));
        return;
    }
    const Staircase& stairs = *from->second.staircase;
    const std::complex<double> first = stairs.treads.front().colour;
    // White noise of variance v gives height and phase of a sine over n samples 2 v/n each.
    const double noise = std::sqrt(2.0) * found.on_tread(*from->first, stairs) / std::abs(first);
    constexpr double degrees = 180 / std::numbers::pi;
    std::vector<double> gains, phases;
    for (const Staircase::Tread& tread : stairs.treads) {
        gains.push_back(std::abs(tread.colour / first));
        phases.push_back(degrees * std::arg(tread.colour / first));
    }
    figures.add("differential_gain",
                Figure::measured(100 * range_without_noise(gains, noise), std::hypot(0.1, 200 * noise), "%")
                    .with_note("from peak to peak"));
    const double turned = turned_by_time_base(figures, lines, *from);
    figures.add("differential_phase",
                Figure::measured(range_without_noise(phases, degrees * noise),
                                 std::hypot(0.1, 2 * degrees * noise, turned), "deg")
                    .with_note(turned > 2 * degrees * noise && turned > least_turned_deg
                                   ? "from peak to peak; most of ± is the time base, which moves within the lines too"
                                   : "from peak to peak"));
}

void add_composite(quantity::Figures& figures, const Findings& found) {
    using quantity::Figure;
    double gain = 0, late_us = 0, weight = 0, gain_noise = 0, late_noise_us = 0;
    for (const auto& [line, signals] : found.all) {
        if (!signals.composite) continue;
        const auto count = static_cast<double>(line->count);
        gain += signals.composite->gain * count, late_us += signals.composite->late_us * count, weight += count;
        gain_noise = signals.composite->gain_noise, late_noise_us = signals.composite->late_noise_us;
    }
    if (weight == 0) {
        for (const char* id : {"chroma_luma_gain", "chroma_luma_delay"})
            figures.add(id, Figure::unknown("no line of the field interval carries a composite pulse"));
        return;
    }
    const double noise = std::sqrt(found.noise_variance / weight);
    figures.add("chroma_luma_gain",
                Figure::measured(100 * (gain / weight - 1), std::hypot(0.3, 100 * gain_noise * noise), "%"));
    figures.add("chroma_luma_delay",
                Figure::measured(1e3 * late_us / weight, std::hypot(2, 1e3 * late_noise_us * noise), "ns")
                    .with_note("positive: chrominance is late"));
}

/// All 2T pulses that stand at one place, averaged, so that noise is not taken for echoes.
void add_k_factor(quantity::Figures& figures, const Findings& found, const AlignedLines& lines, double t_us,
                  double reach_us) {
    using quantity::Figure;
    std::vector<double> sum;
    double place = 0, count = 0;
    for (const auto& [line, signals] : found.all) {
        if (!signals.pulse || (count > 0 && std::abs(*signals.pulse - place) > 0.5)) continue;
        if (sum.empty()) sum.assign(line->luma.size(), 0);
        place = (place * count + *signals.pulse * static_cast<double>(line->count)) /
                (count + static_cast<double>(line->count));
        count += static_cast<double>(line->count);
        for (std::size_t i = 0; i < sum.size(); ++i)
            sum[i] += line->luma[i] - signals.base * static_cast<double>(line->count);
    }
    if (count == 0) {
        figures.add("k_factor_2t", Figure::unknown("no line of the field interval carries a 2T pulse"));
        return;
    }
    const double us = lines.samples_per_us();
    // Only what the echoes are sought in; beside the pulse itself there should be nothing.
    const auto first = static_cast<std::size_t>(place - reach_us * us) - 4,
               last = std::min(sum.size(), static_cast<std::size_t>(place + reach_us * us) + 5);
    const std::span<const double> level = std::span(sum).subspan(first, last - first);
    const double middle = place - static_cast<double>(first);
    std::vector<double> likely(level.begin(), level.end());
    for (std::size_t i = 0; i < likely.size(); ++i)
        if (std::abs(static_cast<double>(i) - middle) > 2 * t_us * us) likely[i] = 0;
    const auto k = [&](std::span<const double> values) { return echoes_of(values, middle, us, t_us, reach_us).k; };
    const Echoes echoes = echoes_of(level, middle, us, t_us, reach_us);
    figures.add(
        "k_factor_2t",
        Figure::measured(100 * without_noise_bias(level, likely, std::sqrt(found.noise_variance * count), false, k),
                         std::hypot(0.1, 200 * echoes.noise), "%"));
}

}  // namespace

void add_test_lines(quantity::Figures& figures, const AlignedLines& lines, double white, double noise_variance,
                    const table::Scanning* scanning) {
    const auto fact_us = [&](const char* key) {
        const table::Fact* fact = scanning == nullptr ? nullptr : scanning->facts.known(key);
        return fact == nullptr ? 0 : fact->in("µs");
    };
    const double t_us = fact_us("t_pulse"), reach_us = fact_us("pulse_clearance");
    Findings found;
    found.noise_variance = noise_variance;
    found.samples_per_us = lines.samples_per_us();
    if (white > 0 && t_us > 0 && reach_us > 0)
        for (const auto& [key, line] : lines.lines())
            found.all.emplace_back(&line, find_test_signals(lines, line, white, t_us));
    add_nonlinearity(figures, found);
    add_differential(figures, lines, found);
    add_k_factor(figures, found, lines, t_us, reach_us);
    add_composite(figures, found);
}

}  // namespace guardband::measure
