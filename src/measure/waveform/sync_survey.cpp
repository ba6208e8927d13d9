#include "measure/waveform/sync_survey.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "dsp/robust.h"
#include "measure/waveform/pulse_slicer.h"
#include "measure/waveform/sync_filter.h"

namespace guardband::measure {
namespace {

constexpr double spread_s = 0.12e-6;       ///< of the filter, before the width of sync is known
constexpr double nominal_step_s = 0.2e-6;  ///< between filtered values
constexpr double block_s = 110e-6;         ///< somewhat more than the longest line of the table
constexpr double tip_share = 0.035, blanking_share = 0.15;
constexpr float hysteresis_share = 0.15F;  ///< of the depth of sync
constexpr double shortest_line_s = 20e-6, longest_line_s = 120e-6;
constexpr double even_share = 0.01;  ///< lines that differ by less are of the same length
constexpr double least_regular_share = 0.5;
constexpr double least_width_share = 0.03, most_width_share = 0.14;  ///< of line sync, of a line: 0.05 to 0.09
constexpr double narrowest_known = 0.045, widest_known = 0.096;      ///< of the table's systems, with some margin
constexpr double least_broad_share = 0.25, most_broad_share = 0.55;  ///< of a broad pulse, of a line
constexpr std::size_t least_lines = 20;
constexpr double most_widening = 1.4;         ///< of sync from a quarter of its depth to three quarters
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
    for (std::size_t i = 0; i < lows.size() * block; ++i)
        sliced.above_low.push_back(sliced.series[i] - lows[i / block]);
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

/// Widths of the pulses that a line follows, and how long those lines are together.
struct Widths {
    std::vector<double> line;
    double covered = 0;
};

Widths sort_widths(const std::vector<CrudePulse>& pulses, double line) {
    Widths widths;
    for (std::size_t i = 0; i + 1 < pulses.size(); ++i) {
        const double length = pulses[i + 1].start - pulses[i].start, width = pulses[i].end - pulses[i].start;
        const bool even = std::abs(length - line) < even_share * line;
        if (!even) continue;
        widths.line.push_back(width);
        widths.covered += length;
    }
    return widths;
}

std::vector<CrudePulse> pulses_at(const std::vector<float>& series, std::size_t block, SlicingLevel level) {
    PulseSlicer slicer(block, level);
    std::vector<CrudePulse> pulses;
    slicer.see(series, pulses);
    slicer.finish(pulses);
    return pulses;
}

/// Distances from pulse to pulse that may be a line.
std::vector<double> line_lengths(const std::vector<CrudePulse>& pulses, double step_s) {
    std::vector<double> lengths;
    for (std::size_t i = 0; i + 1 < pulses.size(); ++i) {
        const double length = pulses[i + 1].start - pulses[i].start;
        if (length > shortest_line_s / step_s && length < longest_line_s / step_s) lengths.push_back(length);
    }
    return lengths;
}

/// Sync has steep sides: nearly as wide deep down as near the top. A sine is 1.7 times as wide there.
bool has_steep_sides(const Sliced& sliced, std::size_t block, const SyncShape& shape, double line) {
    double width[2] = {0, 0};
    for (const int side : {0, 1}) {
        const float rise = shape.rise + (side == 0 ? -0.25F : 0.25F) * shape.depth;
        const Widths widths = sort_widths(pulses_at(sliced.series, block, {rise, 0.1F * shape.depth}), line);
        if (widths.line.empty()) return false;
        width[side] = dsp::median(std::span(widths.line));
    }
    return width[1] < most_widening * width[0];
}

/// How many pulses of a range of widths there are to one line pulse.
double share_of(const std::vector<CrudePulse>& pulses, double low, double high, std::size_t lines) {
    const auto inside = std::ranges::count_if(
        pulses, [&](const CrudePulse& p) { return p.end - p.start > low && p.end - p.start < high; });
    return static_cast<double>(inside) / static_cast<double>(lines);
}

/// The levels between which sync stands, as far as the shares of time tell.
bool find_levels(Sliced& sliced, SyncShape& shape) {
    const double tip = dsp::quantile_in_place(std::span(sliced.above_low), tip_share);
    const double blanking = dsp::quantile_in_place(std::span(sliced.above_low), blanking_share);
    shape.depth = static_cast<float>(blanking - tip);
    shape.rise = static_cast<float>(tip) + shape.depth / 2;
    return shape.depth > 0;
}

/// @param step_samples, step_s  from one value of the series to the next
std::optional<SyncShape> shape_of(std::vector<float> series, double step_samples, double step_s) {
    const auto block = static_cast<std::size_t>(block_s / step_s);
    if (series.size() < 20 * block) return std::nullopt;
    Sliced sliced = above_lows(std::move(series), block);
    SyncShape shape;
    if (!find_levels(sliced, shape)) return std::nullopt;
    const std::vector<CrudePulse> pulses =
        pulses_at(sliced.series, block, {shape.rise, hysteresis_share * shape.depth});
    std::vector<double> lengths = line_lengths(pulses, step_s);
    const double line = commonest_length(lengths);
    const Widths widths = sort_widths(pulses, line);
    if (line == 0 || widths.line.size() < least_lines || !has_steep_sides(sliced, block, shape, line))
        return std::nullopt;
    std::erase_if(lengths, [&](double length) { return std::abs(length - line) >= even_share * line; });
    const double width = dsp::median(std::span(widths.line));
    shape.regular_share = widths.covered / static_cast<double>(sliced.series.size());
    shape.line_samples = dsp::median(std::span(lengths)) * step_samples;
    shape.width_samples = width * step_samples;
    shape.broad_per_line = share_of(pulses, least_broad_share * line, most_broad_share * line, widths.line.size());
    if (shape.broad_per_line > most_broad_per_line) shape.broad_per_line = 0;  // the picture's, not field sync's
    return shape;
}

/// How much a signal of this polarity looks like sync: more is better. Picture turned over can look like it: a white
/// bar comes on every line. But it has no field sync, seldom the width of sync, and is not as deep.
double likeness(const std::optional<SyncShape>& shape, float range) {
    if (!shape) return 0;
    const double width = shape->width_samples / shape->line_samples;
    return shape->regular_share * (shape->has_field_sync() ? 1 : 0.3) *
           (width > narrowest_known && width < widest_known ? 1 : 0.5) * (0.2 + double{shape->depth / range});
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
    const int step = std::max(1, static_cast<int>(nominal_step_s * rate_hz));
    std::vector<float> series = filter.filter_all(samples, step);
    if (series.empty()) return std::nullopt;
    const auto [low, high] = std::ranges::minmax(series);
    const float range = std::max(high - low, std::numeric_limits<float>::min());
    std::optional<SyncShape> upright = shape_of(series, step, step / rate_hz);
    for (float& value : series) value = -value;
    std::optional<SyncShape> inverted = shape_of(std::move(series), step, step / rate_hz);
    if (inverted) inverted->inverted = true;
    const std::optional<SyncShape>& best = likeness(inverted, range) > likeness(upright, range) ? inverted : upright;
    if (!best || best->regular_share < least_regular_share) return std::nullopt;
    const double width = best->width_samples / best->line_samples;
    if (width < least_width_share || width > most_width_share) return std::nullopt;
    return best;
}

std::string describe_without_sync(std::span<const float> samples) {
    if (samples.size() < 2) return "no samples";
    const auto [low, high] = std::ranges::minmax(samples);
    if (high - low < 1e-4F) return "silence or a level that never moves";
    const double correlation = neighbour_correlation(samples);
    if (correlation < 0.3) return "noise";
    if (correlation > 0.98) return "a signal that changes slowly, such as sound";
    return "a signal without even pulses";
}

}  // namespace guardband::measure
