#include "measure/waveform/multiburst.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <span>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr double picture_from_us = 10;             ///< before it is blanking and the burst of colour
constexpr double pedestal_from_us = 24;            ///< bursts and gaps lie evenly about the pedestal from there on
constexpr double swing_us = 0.5;                   ///< window of the swing's RMS: gaps are wider than that
constexpr double least_swing = 0.035;              ///< RMS of a burst, of white
constexpr double in_noise = 4;                     ///< and above what noise leaves of it
constexpr double shortest_us = 2, longest_us = 9;  ///< a burst
constexpr double edge_us = 0.6;                    ///< of a burst, left out at either end
constexpr double lowest_pedestal = 0.2, highest_pedestal = 0.75;  ///< of white
constexpr double largest_rest = 0.2;                              ///< of a burst, that is no sine
constexpr double lowest_hz = 0.3e6;
constexpr double highest_of_rate = 0.45, flat_of_rate = 0.4;
constexpr std::size_t fewest = 4, most = 6;
constexpr double shortest_flag_us = 1, least_flag = 0.1;  ///< of white, from the pedestal
constexpr double flag_like_burst = 1.5;                   ///< the flags' step against the slowest burst, either way
constexpr double beside_hz = 0.25e6;                      ///< of a burst's frequency, what its power is counted in
constexpr double least_steadiness = 0.3;
constexpr double finest_db = 0.02;
constexpr double turn = 2 * std::numbers::pi;

struct Run {
    std::size_t begin = 0, end = 0;
};

/// A sine of free frequency and the level that it swings about.
struct Sine {
    double cycles = 0;  ///< per sample
    double height = 0;  ///< peak
    double rest = 0;    ///< RMS of what it does not explain
};

/// Solves a 4 × 4 system of normal equations. @returns nothing if they hang together
std::optional<std::array<double, 4>> solved(std::array<std::array<double, 5>, 4> rows) {
    for (std::size_t i = 0; i < 4; ++i) {
        std::size_t pivot = i;
        for (std::size_t k = i + 1; k < 4; ++k)
            if (std::abs(rows[k][i]) > std::abs(rows[pivot][i])) pivot = k;
        std::swap(rows[i], rows[pivot]);
        if (std::abs(rows[i][i]) < 1e-12) return std::nullopt;
        for (std::size_t k = 0; k < 4; ++k) {
            if (k == i) continue;
            const double factor = rows[k][i] / rows[i][i];
            for (std::size_t c = i; c < 5; ++c) rows[k][c] -= factor * rows[i][c];
        }
    }
    return std::array{rows[0][4] / rows[0][0], rows[1][4] / rows[1][1], rows[2][4] / rows[2][2],
                      rows[3][4] / rows[3][3]};
}

/// Least squares of level + a cos + b sin and a change of the frequency, Gauss and Newton's way.
std::optional<Sine> fitted_sine(std::span<const double> values, double cycles) {
    const auto n = static_cast<double>(values.size());
    std::array<double, 4> x{};
    for (int round = 0; round < 6; ++round) {
        std::array<std::array<double, 5>, 4> sums{};
        for (std::size_t i = 0; i < values.size(); ++i) {
            const double t = static_cast<double>(i) - n / 2, c = std::cos(turn * cycles * t),
                         s = std::sin(turn * cycles * t);
            const double slope = round == 0 ? t / n : turn * t * (x[2] * c - x[1] * s);
            const double row[5] = {1, c, s, slope, values[i]};
            for (std::size_t a = 0; a < 4; ++a)
                for (std::size_t b = 0; b < 5; ++b) sums[a][b] += row[a] * row[b];
        }
        const auto next = solved(sums);
        if (!next) return std::nullopt;
        x = *next;
        if (round > 0) cycles += x[3];
        if (!(cycles > 0 && cycles < 0.5)) return std::nullopt;
    }
    Sine sine{cycles, std::hypot(x[1], x[2]), 0};
    double squares = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
        const double t = static_cast<double>(i) - n / 2;
        const double rest = values[i] - x[0] - x[1] * std::cos(turn * cycles * t) - x[2] * std::sin(turn * cycles * t);
        squares += rest * rest;
    }
    sine.rest = std::sqrt(squares / n);
    return sine;
}

/// A frequency to begin with: the highest of a crude spectrum.
double crude_cycles(std::span<const double> values) {
    constexpr int steps = 160;
    const double mean = [&] {
        double sum = 0;
        for (const double v : values) sum += v / static_cast<double>(values.size());
        return sum;
    }();
    double best = 0, highest = -1;
    for (int k = 1; k < steps; ++k) {
        const double cycles = 0.5 * k / steps;
        double re = 0, im = 0;
        for (std::size_t i = 0; i < values.size(); ++i) {
            const double t = static_cast<double>(i), hann = 1 - std::cos(turn * (t + 0.5) / double(values.size()));
            re += hann * (values[i] - mean) * std::cos(turn * cycles * t);
            im += hann * (values[i] - mean) * std::sin(turn * cycles * t);
        }
        if (re * re + im * im > highest) highest = re * re + im * im, best = cycles;
    }
    return best;
}

/// The averaged line less the level of blanking, and where it swings.
struct Swings {
    const AlignedLines& lines;
    std::vector<double> level;
    double white = 0, pedestal = 0;

    std::size_t place(double us) const { return static_cast<std::size_t>(lines.place(us)); }
    double us() const { return lines.samples_per_us(); }

    void find_pedestal() { pedestal = dsp::median(std::span(level).subspan(place(pedestal_from_us))); }

    std::vector<Run> runs(double least) const {
        const auto half = static_cast<std::size_t>(std::lround(swing_us * us() / 2));
        std::vector<Run> found;
        std::size_t begin = 0;
        bool swung = false;
        for (std::size_t i = place(picture_from_us); i + half < level.size(); ++i) {
            double squares = 0;
            for (std::size_t k = i - half; k <= i + half; ++k) squares += (level[k] - pedestal) * (level[k] - pedestal);
            const bool swings = squares > least * least * static_cast<double>(2 * half + 1);
            if (swings && !swung) begin = i;
            if (!swings && swung) found.push_back({begin, i});
            swung = swings;
        }
        return found;
    }
};

struct Found {
    Run run;
    Sine sine;
};

std::vector<Found> sines_of(const Swings& swings, double least) {
    std::vector<Found> all;
    for (const Run& run : swings.runs(least)) {
        const double length_us = static_cast<double>(run.end - run.begin) / swings.us();
        if (length_us < shortest_us || length_us > longest_us) continue;
        const auto edge = static_cast<std::size_t>(edge_us * swings.us());
        const auto inside = std::span(swings.level).subspan(run.begin + edge, run.end - run.begin - 2 * edge);
        const auto sine = fitted_sine(inside, crude_cycles(inside));
        if (!sine || sine->rest > largest_rest * sine->height) continue;
        const double hz = sine->cycles * swings.us() * 1e6;
        if (hz < lowest_hz || sine->cycles > highest_of_rate) continue;
        if (!all.empty() && sine->cycles < all.back().sine.cycles * 1.05) continue;
        all.push_back({run, *sine});
    }
    return all;
}

/// The level of the longest stretch to one side of the pedestal, before the bursts; nothing if there is none.
std::optional<double> flag(const Swings& swings, std::size_t end, double side) {
    Run best, now;
    std::size_t first = swings.place(picture_from_us);  // blanking before the bright flag is no dark one
    while (first < end && swings.level[first] < swings.pedestal) ++first;
    for (std::size_t i = first; i < end; ++i) {
        if (side * (swings.level[i] - swings.pedestal) > least_flag * swings.white) {
            if (now.end != i) now.begin = i;
            now.end = i + 1;
            if (now.end - now.begin > best.end - best.begin) best = now;
        }
    }
    if (static_cast<double>(best.end - best.begin) < shortest_flag_us * swings.us()) return std::nullopt;
    const std::size_t quarter = (best.end - best.begin) / 4;
    return dsp::median(std::span(swings.level).subspan(best.begin + quarter, best.end - best.begin - 2 * quarter));
}

/// Peak to peak height that bursts are held against.
double reference_of(const Swings& swings, const std::vector<Found>& found, Multiburst& burst) {
    const double slowest = 2 * found.front().sine.height;
    const auto bright = flag(swings, found.front().run.begin, 1), dark = flag(swings, found.front().run.begin, -1);
    if (!bright || !dark) return slowest;
    const double step = *bright - *dark;
    if (step > flag_like_burst * slowest || slowest > flag_like_burst * step) return slowest;
    burst.by_flag = true;
    return step;
}

}  // namespace

std::optional<Multiburst> find_multiburst(const AlignedLines& lines, const AveragedLine& line, double white,
                                          double noise_variance) {
    Swings swings{lines, {}, white};
    for (std::size_t i = 0; i < line.luma.size(); ++i) swings.level.push_back(line.level(i));
    if (swings.place(pedestal_from_us + longest_us) >= swings.level.size()) return std::nullopt;
    swings.find_pedestal();
    if (swings.pedestal < lowest_pedestal * white || swings.pedestal > highest_pedestal * white) return std::nullopt;
    const double noise = std::sqrt(noise_variance / static_cast<double>(line.count));
    const std::vector<Found> found = sines_of(swings, std::max(least_swing * white, in_noise * noise));
    if (found.size() < fewest) return std::nullopt;
    Multiburst burst;
    const double reference = reference_of(swings, found, burst);
    for (const Found& one : found) {
        if (burst.bursts.size() == most) break;
        const double hz = one.sine.cycles * lines.samples_per_us() * 1e6;
        const double steady = lines.steadiness(line, hz, beside_hz, noise_variance);
        if (steady < least_steadiness) return std::nullopt;
        const double passed = lines.interpolation_response(one.sine.cycles);
        const double height = 2 * one.sine.height / std::sqrt(steady) / passed;
        const double n = static_cast<double>(one.run.end - one.run.begin) - 2 * edge_us * lines.samples_per_us();
        const double by_noise = std::sqrt(2 / n) * std::max(noise, one.sine.rest / 4) / one.sine.height;
        const double by_losses = 0.1 * (1 / std::sqrt(steady) - 1) + (one.sine.cycles > flat_of_rate ? 1 - passed : 0);
        constexpr double db_per_share = 8.686;
        burst.bursts.push_back({hz, 20 * std::log10(height / reference),
                                std::hypot(finest_db, db_per_share * std::hypot(by_noise, by_losses))});
    }
    return burst;
}

void add_multiburst(quantity::Figures& figures, const AlignedLines& lines, double white, double noise_variance) {
    std::optional<Multiburst> best;
    if (white > 0)
        for (const auto& [key, line] : lines.lines())
            if (auto found = find_multiburst(lines, line, white, noise_variance);
                found && (!best || found->bursts.size() > best->bursts.size()))
                best = std::move(found);
    if (!best) {
        figures.add("multiburst", Figure::unknown("no line of the field interval carries a multiburst"));
        return;
    }
    const auto furthest =
        std::ranges::max_element(best->bursts, {}, [](const WaveBurst& one) { return std::abs(one.db); });
    figures.add("multiburst",
                Figure::measured(furthest->db, furthest->uncertainty, "dB")
                    .with_note(fmt::format(
                        "the burst furthest off, of {:.2f} MHz; against {}", furthest->hz / 1e6,
                        best->by_flag ? "the flags before the bursts" : "the slowest burst: there are no two flags")));
    for (std::size_t i = 0; i < best->bursts.size(); ++i) {
        const WaveBurst& one = best->bursts[i];
        figures.add(fmt::format("multiburst_{}", i + 1),
                    Figure::measured(one.db, one.uncertainty, "dB").with_note(fmt::format("{:.2f} MHz", one.hz / 1e6)));
    }
}

}  // namespace guardband::measure
