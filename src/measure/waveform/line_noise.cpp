#include "measure/waveform/line_noise.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <span>

#include "dsp/robust.h"

namespace guardband::measure {
namespace {

using quantity::Figure;

constexpr std::size_t first_bin = 2;  ///< the window spreads what is left of the mean over the bins before
constexpr double flat_from_us = 11.5, flat_to_us = 59;
constexpr double largest_level = 0.04, largest_swing = 0.03;  ///< of a line that is empty, of white
constexpr double highest_over_median = 100;                   ///< power of a bin of noise, once in e⁷⁰ lines
constexpr double in_noise = 5;                                ///< and what noise may add to that, in its deviations

/// Mean power per bin as the variance that white noise of that density would have.
double density(const AlignedLines& lines, const AveragedLine& line, std::size_t bin) {
    return line.power[bin] / static_cast<double>(line.count) / lines.white_power();
}

bool is_empty(const AlignedLines& lines, const AveragedLine& line, double white) {
    double variance = 0;
    for (std::size_t bin = first_bin; bin < line.power.size(); ++bin) variance += density(lines, line, bin);
    variance /= static_cast<double>(line.power.size());
    // A subcarrier, as SECAM has on these lines, or run-in of data: one frequency stands out.
    const double highest = *std::max_element(line.power.begin() + first_bin, line.power.end());
    if (highest > highest_over_median * dsp::median(std::span(line.power))) return false;
    // The Gaussian of 0.25 µs leaves this share of white noise's variance.
    const double left = 1 / (2 * std::sqrt(std::numbers::pi) * AlignedLines::smooth_us * lines.samples_per_us());
    const double noise = in_noise * std::sqrt(variance * left / static_cast<double>(line.count));
    const std::vector<double> smooth = lines.smooth(line);
    const auto from = smooth.begin() + static_cast<std::ptrdiff_t>(lines.place(flat_from_us));
    const auto to =
        smooth.begin() + static_cast<std::ptrdiff_t>(std::min(
                             lines.place(flat_to_us), static_cast<double>(smooth.size()) - 2 * lines.samples_per_us()));
    const auto [low, high] = std::minmax_element(from, to);
    return std::abs(*low) < largest_level * white + noise && std::abs(*high) < largest_level * white + noise &&
           *high - *low < largest_swing * white + noise;
}

struct Noise {
    double plain = 0, weighted = 0;  ///< variances
    std::int64_t lines = 0;
    int kinds = 0;
    double bins = 0;
};

Noise noise_of_empty_lines(const AlignedLines& lines, double white, double limit_hz) {
    Noise noise;
    for (const auto& [key, line] : lines.lines()) {
        if (!is_empty(lines, line, white)) continue;
        ++noise.kinds;
        noise.lines += line.count;
        const auto last = std::min(static_cast<std::size_t>(limit_hz / lines.bin_hz()), line.power.size() - 1);
        const double share = static_cast<double>(line.count) * 2 / (2 * static_cast<double>(line.power.size() - 1));
        const double low = (density(lines, line, first_bin) + density(lines, line, first_bin + 1)) / 2;
        for (std::size_t bin = 0; bin <= last; ++bin) {
            const double at =
                (bin < first_bin ? low : density(lines, line, bin)) * share * (bin == 0 || bin == last ? 0.5 : 1);
            noise.plain += at;
            noise.weighted += at * unified_weighting(static_cast<double>(bin) * lines.bin_hz());
        }
        noise.bins = static_cast<double>(last);
    }
    noise.plain /= std::max(1.0, static_cast<double>(noise.lines));
    noise.weighted /= std::max(1.0, static_cast<double>(noise.lines));
    return noise;
}

}  // namespace

double unified_weighting(double hz) {
    constexpr double tau_s = 245e-9, a = 4.5;
    const double turn = 2 * std::numbers::pi * hz * tau_s;
    const double high = (1 + 1 / a) * turn, low = turn / a;
    return (1 + low * low) / (1 + high * high);
}

double add_noise(quantity::Figures& figures, const AlignedLines& lines, double white, const table::Scanning* scanning) {
    const auto refuse = [&](const std::string& why) {
        figures.add("luma_snr", Figure::unknown(why));
        figures.add("luma_snr_weighted", Figure::unknown(why));
        return 0.0;
    };
    if (white <= 0) return refuse("the level of white is not known of this system");
    const table::Fact* limit = scanning == nullptr ? nullptr : scanning->facts.known("noise_bandwidth");
    if (limit == nullptr) return refuse("the table does not say up to which frequency noise is measured");
    const double limit_hz = limit->in("Hz");
    const Noise noise = noise_of_empty_lines(lines, white, limit_hz);
    if (noise.kinds == 0) return refuse("no line of the field interval is empty");
    if (noise.plain <= 0) return refuse("the empty lines carry no noise at all");
    const double u = std::hypot(0.1, 4.34 * 1.3 / std::sqrt(noise.bins * static_cast<double>(noise.lines)));
    const auto db = [&](double variance) { return 10 * std::log10(white * white / variance); };
    figures.add("luma_snr", Figure::measured(db(noise.plain), u, "dB")
                                .with_note(fmt::format("up to {:g} MHz, of {} empty lines of the field interval",
                                                       limit_hz / 1e6, noise.kinds)));
    figures.add("luma_snr_weighted",
                Figure::measured(db(noise.weighted), u, "dB").with_note("by the unified weighting network"));
    const double nyquist_hz = lines.samples_per_us() * 1e6 / 2;
    return noise.plain * nyquist_hz / std::min(limit_hz, nyquist_hz);
}

}  // namespace guardband::measure
