#include "measure/waveform/sync_survey.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "dsp/robust.h"
#include "measure/waveform/pulse_slicer.h"
#include "measure/waveform/sync_filter.h"

namespace guardband::measure {
namespace {

constexpr double spread_s = 0.12e-6;      ///< of the filter, before the width of sync is known
constexpr double step_s = 0.2e-6;         ///< between filtered values
constexpr double block_s = 110e-6;        ///< somewhat more than the longest line of the table
constexpr double tip_share = 0.035, blanking_share = 0.15;
constexpr float hysteresis_share = 0.15F;  ///< of the depth of sync
constexpr double shortest_line_s = 20e-6, longest_line_s = 120e-6;
constexpr double even_share = 0.01;        ///< lines that differ by less are of the same length
constexpr double least_regular_share = 0.5;
constexpr double least_width_share = 0.03, most_width_share = 0.14;  ///< of line sync, of a line: 0.05 to 0.09
constexpr double least_broad_share = 0.25, most_broad_share = 0.55;  ///< of a broad pulse, of a line
constexpr double most_broad_per_line = 0.08;  ///< 405 lines have 8 broad pulses to 202 lines

/// Filtered values less the lows of their neighbourhood, and the lows' own series.
struct Sliced {
    std::vector<float> series;
    std::vector<float> above_low;
};

std::vector<float> smooth_lows(const std::vector<float>& lows) {
    std::vector<float> smooth;
    const auto count = static_cast<std::ptrdiff_t>(lows.size());
    for (std::ptrdiff_t i = 0; i < count; ++i) {
        const std::ptrdiff_t from = std::max<std::ptrdiff_t>(0, i - 2), to = std::min(count, i + 3);
        const auto near = std::span(lows).subspan(static_cast<std::size_t>(from), static_cast<std::size_t>(to - from));
        smooth.push_back(static_cast<float>(dsp::median(near)));
    }
    return smooth;
}

Sliced above_lows(std::vector<float> series, std::size_t block) {
    Sliced sliced;
    sliced.series = std::move(series);
    const std::vector<float> lows = smooth_lows(block_lows(sliced.series, block));
    for (std::size_t i = 0; i < lows.size() * block; ++i) sliced.above_low.push_back(sliced.series[i] - lows[i / block]);
    return sliced;
}

/// The length that most of the time is spent in, among the distances from pulse to pulse; 0 if none repeats.
double commonest_length(std::vector<double> lengths) {
    std::ranges::sort(lengths);
    double best = 0, best_time = 0;
    std::size_t end = 0;
    double time = 0;
    for (std::size_t begin = 0; begin < lengths.size(); ++begin) {
        for (; end < lengths.size() && lengths[end] <= lengths[begin] * (1 + even_share); ++end) time += lengths[end];
        if (time > best_time) {
            best_time = time;
            best = lengths[begin + (end - begin) / 2];
        }
        time -= lengths[begin];
    }
    return best;
}

struct Widths {
    std::vector<double> line, other;
    double covered = 0;
};

Widths sort_widths(const std::vector<CrudePulse>& pulses, double line) {
    Widths widths;
    for (std::size_t i = 0; i + 1 < pulses.size(); ++i) {
        const double length = pulses[i + 1].start - pulses[i].start, width = pulses[i].end - pulses[i].start;
        const bool even = std::abs(length - line) < even_share * line;
        (even ? widths.line : widths.other).push_back(width);
        if (even) widths.covered += length;
    }
    return widths;
}

std::optional<SyncShape> shape_of(std::vector<float> series, double step_samples, double step_s_true) {
    const auto block = static_cast<std::size_t>(block_s / step_s_true);
    if (series.size() < 20 * block) return std::nullopt;
    Sliced sliced = above_lows(std::move(series), block);
    const float tip = static_cast<float>(dsp::quantile_in_place(std::span(sliced.above_low), tip_share));
    const float blanking = static_cast<float>(dsp::quantile_in_place(std::span(sliced.above_low), blanking_share));
    SyncShape shape;
    shape.depth = blanking - tip;
    if (!(shape.depth > 0)) return std::nullopt;
    shape.rise = tip + shape.depth / 2;
    PulseSlicer slicer(block, {shape.rise, hysteresis_share * shape.depth});
    std::vector<CrudePulse> pulses;
    slicer.see(sliced.series, pulses);
    slicer.finish(pulses);

    std::vector<double> lengths;
    for (std::size_t i = 0; i + 1 < pulses.size(); ++i) {
        const double length = pulses[i + 1].start - pulses[i].start;
        if (length > shortest_line_s / step_s_true && length < longest_line_s / step_s_true) lengths.push_back(length);
    }
    double line = commonest_length(lengths);
    if (line == 0) return std::nullopt;
    const Widths widths = sort_widths(pulses, line);
    if (widths.line.size() < 20) return std::nullopt;
    const double width = dsp::median(std::span(widths.line));
    std::vector<double> even;
    for (const double length : lengths)
        if (std::abs(length - line) < even_share * line) even.push_back(length);
    shape.regular_share = widths.covered / static_cast<double>(sliced.series.size());
    shape.line_samples = dsp::median(std::span(even)) * step_samples;
    shape.width_samples = width * step_samples;
    const auto lines = static_cast<double>(widths.line.size());
    const auto between = [&](double low, double high) {
        return static_cast<double>(std::ranges::count_if(pulses, [&](const CrudePulse& p) {
                   return p.end - p.start > low && p.end - p.start < high;
               })) / lines;
    };
    shape.broad_per_line = between(least_broad_share * line, most_broad_share * line);
    shape.equalising_per_line = between(0.3 * width, 0.7 * width);
    if (shape.broad_per_line > most_broad_per_line) shape.broad_per_line = 0;  // the picture's, not field sync's
    return shape;
}

/// How much a signal of this polarity looks like sync: more is better.
double likeness(const std::optional<SyncShape>& shape) {
    if (!shape) return 0;
    const double width = shape->width_samples / shape->line_samples;
    return shape->regular_share * (shape->has_field_sync() ? 1 : 0.5) *
           (width > least_width_share && width < most_width_share ? 1 : 0.3);
}

/// Correlation of each sample with the next: 0 for white noise, near 1 for a slow signal.
double neighbour_correlation(std::span<const float> samples) {
    double sum = 0, squares = 0, products = 0;
    for (const float sample : samples) sum += sample;
    const double mean = sum / static_cast<double>(samples.size());
    for (std::size_t i = 0; i + 1 < samples.size(); ++i) {
        squares += (samples[i] - mean) * (samples[i] - mean);
        products += (samples[i] - mean) * (samples[i + 1] - mean);
    }
    return squares > 0 ? products / squares : 1;
}

}  // namespace

std::optional<SyncShape> find_sync(std::span<const float> samples, double rate_hz) {
    const SyncFilter filter(std::max(0.5, spread_s * rate_hz));
    const int step = std::max(1, static_cast<int>(step_s * rate_hz));
    std::vector<float> series = filter.filter_all(samples, step);
    std::optional<SyncShape> upright = shape_of(series, step, step / rate_hz);
    for (float& value : series) value = -value;
    std::optional<SyncShape> inverted = shape_of(std::move(series), step, step / rate_hz);
    if (inverted) inverted->inverted = true;
    const std::optional<SyncShape>& best = likeness(inverted) > likeness(upright) ? inverted : upright;
    if (!best || best->regular_share < least_regular_share) return std::nullopt;
    const double width = best->width_samples / best->line_samples;
    if (width < least_width_share || width > most_width_share) return std::nullopt;
    return best;
}

std::string describe_without_sync(std::span<const float> samples, double) {
    const auto [low, high] = std::ranges::minmax(samples);
    if (high - low < 1e-4F) return "silence or a level that never moves";
    const double correlation = neighbour_correlation(samples);
    if (correlation < 0.3) return "noise";
    if (correlation > 0.98) return "a signal that changes slowly, such as sound";
    return "a signal without even pulses";
}

}  // namespace guardband::measure
