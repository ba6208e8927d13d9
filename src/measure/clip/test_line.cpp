#include "measure/clip/test_line.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

namespace guardband::measure {
namespace {

constexpr std::size_t piece = 48, hop = 8;
constexpr double lowest = 0.03, highest = 0.48, frequency_step = 0.0075;
constexpr double least_share = 0.96;     ///< of a piece's squares that a sine explains
constexpr double least_amplitude = 1.5;  ///< 8-bit codes: bursts that are all but gone still count
constexpr double same_frequency = 0.012;
constexpr std::size_t fewest_bursts = 4, fewest_pieces = 4;

struct SineFit {
    double frequency = 0, amplitude = 0, share = 0;
};

/// Level, cosine and sine by least squares.
SineFit fit_sine(std::span<const float> samples, double frequency) {
    // Centred, the sine is odd and the others even: two small systems.
    const double middle = (static_cast<double>(samples.size()) - 1) / 2;
    double n = 0, c = 0, cc = 0, ss = 0, y = 0, yc = 0, ys = 0, yy = 0;
    for (std::size_t i = 0; i < samples.size(); ++i) {
        const double phase = 2 * std::numbers::pi * frequency * (static_cast<double>(i) - middle);
        const double value = samples[i], cosine = std::cos(phase), sine = std::sin(phase);
        ++n, c += cosine, cc += cosine * cosine, ss += sine * sine;
        y += value, yc += value * cosine, ys += value * sine, yy += value * value;
    }
    const double even = cc - c * c / n, b = even > 1e-9 ? (yc - y * c / n) / even : 0, s = ss > 1e-9 ? ys / ss : 0;
    const double squares = yy - y * y / n;
    const double explained = b * (yc - y * c / n) + s * ys;
    return {frequency, std::hypot(b, s), squares > 0 ? explained / squares : 0};
}

SineFit best_sine(std::span<const float> samples) {
    SineFit best;
    for (double f = lowest; f < highest; f += frequency_step)
        if (const SineFit fit = fit_sine(samples, f); fit.share > best.share) best = fit;
    // Finer about the best.
    for (double step = frequency_step / 2; step > 1e-4; step /= 2)
        for (const double f : {best.frequency - step, best.frequency + step})
            if (const SineFit fit = fit_sine(samples, f); fit.share > best.share) best = fit;
    return best;
}

/// Lobes to either side of the windowed sinc by which samples are read between each other.
constexpr std::size_t lobes = 8;

/// @param offset  samples from `at`
double between(std::span<const float> line, std::size_t at, double offset) {
    const auto sinc = [](double x) {
        return std::abs(x) < 1e-9 ? 1 : std::sin(std::numbers::pi * x) / (std::numbers::pi * x);
    };
    double sum = 0, weights = 0;
    for (std::size_t i = 0; i <= 2 * lobes; ++i) {
        const double distance = static_cast<double>(i) - static_cast<double>(lobes) - offset;
        const double weight = sinc(distance) * sinc(distance / static_cast<double>(lobes + 1));
        sum += weight * static_cast<double>(line[at + i - lobes]), weights += weight;
    }
    return sum / weights;
}

double mean(std::span<const float> values) {
    return std::accumulate(values.begin(), values.end(), 0.0) /
           static_cast<double>(std::max<std::size_t>(values.size(), 1));
}

}  // namespace

std::optional<std::vector<Burst>> find_multiburst(std::span<const float> line) {
    std::vector<Burst> bursts;
    std::size_t first = 0, pieces = 0;
    double frequency = 0;
    const auto close = [&](std::size_t end) {
        if (pieces >= fewest_pieces) {
            const SineFit fit = best_sine(line.subspan(first + hop, end - first - 2 * hop));
            bursts.push_back({fit.frequency, fit.amplitude});
        }
        pieces = 0;
    };
    std::size_t end = 0;
    for (std::size_t at = 0; at + piece <= line.size(); at += hop) {
        const SineFit fit = best_sine(line.subspan(at, piece));
        const bool is_sine = fit.share > least_share && fit.amplitude > least_amplitude;
        const bool same = pieces > 0 && std::abs(fit.frequency - frequency) < same_frequency;
        if (pieces > 0 && !(is_sine && same)) close(end);
        if (!is_sine) continue;
        if (pieces == 0) first = at;
        frequency = fit.frequency, end = at + piece, ++pieces;
    }
    if (pieces > 0) close(end);
    const bool rises = std::ranges::is_sorted(bursts, {}, &Burst::cycles_per_sample);
    if (bursts.size() < fewest_bursts || !rises ||
        bursts.back().cycles_per_sample < 3 * bursts.front().cycles_per_sample)
        return std::nullopt;
    return bursts;
}

std::optional<Ramp> find_ramp(std::span<const float> line) {
    const auto part = line.subspan(line.size() / 5, line.size() * 3 / 5);
    const auto n = static_cast<double>(part.size());
    if (part.size() < 32) return std::nullopt;
    const double middle = (n - 1) / 2, level = mean(part);
    double xy = 0, xx = 0;
    for (std::size_t i = 0; i < part.size(); ++i) {
        const double x = static_cast<double>(i) - middle;
        xy += x * (part[i] - level), xx += x * x;
    }
    const double slope = xy / xx, rise = std::abs(slope) * n;
    constexpr double least_rise = 60, most_bent = 0.1;
    if (rise < least_rise) return std::nullopt;
    // Over eighths of the part, so that noise is not taken for a bend.
    double largest = 0;
    constexpr std::size_t eighths = 8;
    for (std::size_t i = 0; i < eighths; ++i) {
        double off = 0;
        const std::size_t from = part.size() * i / eighths, to = part.size() * (i + 1) / eighths;
        for (std::size_t k = from; k < to; ++k) off += part[k] - level - slope * (static_cast<double>(k) - middle);
        largest = std::max(largest, std::abs(off) / static_cast<double>(to - from));
    }
    // Steps would pass for a ramp by their means alone.
    double rest = 0;
    for (std::size_t k = 0; k < part.size(); ++k)
        rest += std::pow(part[k] - level - slope * (static_cast<double>(k) - middle), 2);
    if (largest > most_bent * rise || std::sqrt(rest / n) > 2 * largest + 2) return std::nullopt;
    return Ramp{slope, largest / rise};
}

std::optional<PulseAndBar> find_pulse_and_bar(std::span<const float> line, int shortest_bar, double widest_pulse) {
    const auto [low, high] = std::ranges::minmax(line);
    constexpr float least_height = 60;
    if (high - low < least_height) return std::nullopt;
    struct Run {
        std::size_t from = 0, to = 0;
    };
    std::vector<Run> runs;
    const float half = (low + high) / 2;
    for (std::size_t x = 1; x < line.size(); ++x) {
        if (line[x] >= half && line[x - 1] < half) runs.push_back({x, x});
        if (!runs.empty() && line[x] >= half) runs.back().to = x + 1;
    }
    const auto length = [](const Run& run) { return static_cast<double>(run.to - run.from); };
    const auto bar = std::ranges::find_if(runs, [&](const Run& run) { return length(run) >= shortest_bar; });
    const auto pulse = std::ranges::find_if(runs, [&](const Run& run) { return length(run) <= widest_pulse; });
    if (runs.size() != 2 || bar == runs.end() || pulse == runs.end()) return std::nullopt;
    const std::size_t quarter = (bar->to - bar->from) / 4;
    const double black = low;
    const double first = mean(line.subspan(bar->from + quarter / 2, quarter)) - black,
                 last = mean(line.subspan(bar->to - quarter / 2 - quarter, quarter)) - black;
    const double height = mean(line.subspan(bar->from + quarter, 2 * quarter)) - black;
    const auto top = std::max_element(line.begin() + static_cast<std::ptrdiff_t>(pulse->from),
                                      line.begin() + static_cast<std::ptrdiff_t>(pulse->to)) -
                     line.begin();
    const auto at = static_cast<std::size_t>(top);
    if (at < lobes || at + lobes >= line.size()) return std::nullopt;
    // The top lies between samples.
    double peak = 0;
    for (double off = -1; off <= 1; off += 1.0 / 16) peak = std::max(peak, between(line, at, off) - black);
    const auto crossing = [&](int way) {
        std::size_t x = at;
        while (x > 0 && x + 1 < line.size() && line[x] - black > peak / 2) x += static_cast<std::size_t>(way);
        const double outer = line[x] - black, inner = line[x - static_cast<std::size_t>(way)] - black;
        return static_cast<double>(x) - way * (peak / 2 - outer) / std::max(inner - outer, 1e-6);
    };
    return PulseAndBar{peak / height, (last - first) / height, crossing(1) - crossing(-1)};
}

}  // namespace guardband::measure
