#include "measure/waveform/test_signals.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace guardband::measure {
namespace {

constexpr double base_from_us = 6.6, base_to_us = 8.8;
constexpr double picture_from_us = 10;  ///< before it is blanking and the burst
constexpr double least_bar = 0.75;      ///< of white
constexpr double shortest_bar_us = 8;
constexpr double pulse_reach_us = 7;                  ///< after the bar's end
constexpr double least_pulse = 0.5;                   ///< of white
constexpr double least_riser = 0.08, riser_us = 0.5;  ///< of white, in twice that time
constexpr int risers = 5;
constexpr double nearest_riser_us = 1.8, farthest_riser_us = 6, evenness = 1.3;
constexpr double settle_us = 0.75;        ///< from a riser on, and up to the next, the smoothed line is not flat
constexpr double colour_settle_us = 1.3;  ///< nor from either end of the subcarrier
constexpr double least_colour = 0.05;     ///< of white, on every tread
constexpr double least_composite = 0.2, most_composite = 0.9;  ///< height of either part, of white
constexpr double narrowest_composite_us = 0.8, widest_composite_us = 2.8;

/// One averaged line in the three forms that are looked at.
struct View {
    const AlignedLines& lines;
    const AveragedLine& line;
    double white, t_us;
    std::vector<double> smooth;
    double base = 0;  ///< level of blanking that is left

    /// Blanking is taken late on the back porch, where echoes of sync have died away; the burst averages out.
    void take_off_base() {
        const auto from = static_cast<std::size_t>(lines.place(base_from_us)),
                   to = static_cast<std::size_t>(lines.place(base_to_us));
        for (std::size_t i = from; i < to; ++i) base += smooth[i] / static_cast<double>(to - from);
        for (double& value : smooth) value -= base;
    }
    double level(std::size_t i) const { return line.level(i) - base; }
    double us() const { return lines.samples_per_us(); }
    std::size_t size() const { return smooth.size(); }
    std::size_t start() const { return static_cast<std::size_t>(lines.place(picture_from_us)); }
};

double half_crossing(const View& view, std::size_t i, double level) {
    const double a = view.level(i), b = view.level(i + 1);
    return static_cast<double>(i) + (a == b ? 0.5 : (level - a) / (b - a));
}

std::optional<TestSignals::Bar> find_bar(const View& view) {
    std::size_t begin = 0;
    for (std::size_t i = view.start(), run = i; i < view.size(); ++i) {
        if (view.smooth[i] < least_bar * view.white) {
            const std::size_t length = i - run;
            if (static_cast<double>(length) >= shortest_bar_us * view.us()) {
                begin = run;
                double level = 0;
                const std::size_t from = run + length / 4, to = i - length / 4;
                for (std::size_t k = from; k < to; ++k) level += view.smooth[k] / static_cast<double>(to - from);
                return TestSignals::Bar{static_cast<double>(begin), static_cast<double>(i), level};
            }
            run = i + 1;
        }
    }
    return std::nullopt;
}

/// A narrow peak as high as the bar, after it.
std::optional<double> find_pulse(const View& view, const TestSignals::Bar& bar) {
    const auto from = static_cast<std::size_t>(bar.end + 1.5 * view.us());
    const std::size_t to = std::min(view.size() - 2, static_cast<std::size_t>(bar.end + pulse_reach_us * view.us()));
    if (from >= to) return std::nullopt;
    std::size_t top = from;
    for (std::size_t i = from; i < to; ++i)
        if (view.level(i) > view.level(top)) top = i;
    const double height = view.level(top);
    if (height < least_pulse * view.white || top == from || top + 1 >= to) return std::nullopt;
    std::size_t left = top, right = top;
    while (left > from && view.level(left) > height / 2) --left;
    while (right < to && view.level(right) > height / 2) ++right;
    const double l = half_crossing(view, left, height / 2), r = half_crossing(view, right - 1, height / 2);
    const double width_t = (r - l) / view.us() / view.t_us;
    if (width_t < 1.2 || width_t > 3.2) return std::nullopt;
    return (l + r) / 2;
}

/// Where the smoothed line passes half way between its levels to either side of an edge.
std::size_t middle_of_edge(const View& view, std::size_t near, std::size_t reach) {
    if (near < reach || near + reach >= view.size()) return near;
    const double half = (view.smooth[near - reach] + view.smooth[near + reach]) / 2;
    std::size_t best = near;
    for (std::size_t i = near - reach; i <= near + reach; ++i)
        if (std::abs(view.smooth[i] - half) < std::abs(view.smooth[best] - half)) best = i;
    return best;
}

/// Centres of edges that rise (or fall, `sign` −1) by more than a share of white.
std::vector<std::size_t> edges(const View& view, double sign) {
    const auto h = static_cast<std::size_t>(riser_us * view.us()), apart = static_cast<std::size_t>(1.2 * view.us());
    std::vector<std::size_t> found;
    const auto rise = [&](std::size_t i) { return sign * (view.smooth[i + h] - view.smooth[i - h]); };
    for (std::size_t i = view.start() + h; i + h < view.size(); ++i) {
        if (rise(i) < least_riser * view.white) continue;
        if (!found.empty() && i - found.back() < apart) {
            if (rise(i) > rise(found.back())) found.back() = i;
        } else {
            found.push_back(i);
        }
    }
    for (std::size_t& i : found) i = middle_of_edge(view, i, 2 * h);
    return found;
}

std::optional<std::vector<std::size_t>> even_risers(const View& view) {
    const std::vector<std::size_t> up = edges(view, 1), down = edges(view, -1);
    for (std::size_t first = 0; first + risers <= up.size(); ++first) {
        std::size_t nearest = SIZE_MAX, farthest = 0;
        for (std::size_t k = first; k + 1 < first + risers; ++k) {
            nearest = std::min(nearest, up[k + 1] - up[k]);
            farthest = std::max(farthest, up[k + 1] - up[k]);
        }
        const bool falls =
            std::ranges::any_of(down, [&](std::size_t d) { return d > up[first] && d < up[first + risers - 1]; });
        if (falls || static_cast<double>(nearest) < nearest_riser_us * view.us() ||
            static_cast<double>(farthest) > farthest_riser_us * view.us() ||
            static_cast<double>(farthest) > evenness * static_cast<double>(nearest))
            continue;
        std::vector<std::size_t> places(up.begin() + static_cast<std::ptrdiff_t>(first),
                                        up.begin() + static_cast<std::ptrdiff_t>(first + risers));
        // The last tread ends as far on as the others are long, or where the line falls.
        std::size_t end = places.back() + nearest;
        for (const std::size_t d : down)
            if (d > places.back()) end = std::min(end, d);
        places.push_back(std::min(end, view.size() - 1));
        places.insert(places.begin(), places.front() - nearest);
        return places;
    }
    return std::nullopt;
}

/// Subcarrier on a staircase may begin later than its first tread and end before its last: only what has it counts.
void keep_to_colour(const View& view, std::vector<std::size_t>& bounds) {
    const std::size_t second = (bounds[1] + bounds[2]) / 2;
    const double half = std::abs(view.line.colour(second)) / 2;
    if (half < least_colour * view.white / 2) return;
    const auto extra = static_cast<std::size_t>((colour_settle_us - settle_us) * view.us());
    std::size_t begin = bounds[1], end = bounds[bounds.size() - 2];
    while (begin + extra > bounds.front() && begin > 0 && std::abs(view.line.colour(begin)) > half) --begin;
    while (end < bounds.back() + extra && end + 1 < view.size() && std::abs(view.line.colour(end)) > half) ++end;
    bounds.front() = std::max(bounds.front(), begin + extra);
    bounds.back() = std::min(bounds.back(), end - extra);
}

std::optional<Staircase> find_staircase(const View& view) {
    auto bounds = even_risers(view);
    if (!bounds) return std::nullopt;
    keep_to_colour(view, *bounds);
    const auto settle = static_cast<std::size_t>(settle_us * view.us());
    Staircase stairs;
    for (std::size_t k = 0; k + 1 < bounds->size(); ++k) {
        Staircase::Tread tread{(*bounds)[k] + settle, (*bounds)[k + 1] - settle, 0, 0};
        // A last tread may be barely as long as its ends take to settle: its middle is the best there is.
        if (tread.end <= tread.begin) tread.begin = (tread.begin + tread.end) / 2, tread.end = tread.begin + 1;
        for (std::size_t i = tread.begin; i < tread.end; ++i) {
            const auto n = static_cast<double>(tread.end - tread.begin);
            tread.level += view.smooth[i] / n;
            tread.colour += view.line.colour(i) / n;
        }
        stairs.treads.push_back(tread);
    }
    return stairs;
}

bool is_coloured(const Staircase& stairs, double white) {
    return std::ranges::all_of(stairs.treads,
                               [&](const Staircase::Tread& t) { return std::abs(t.colour) > least_colour * white; });
}

/// Place of the highest chrominance where luminance has a hump of the same width; after the bar.
std::optional<TestSignals::CompositePulse> find_composite(const View& view, const TestSignals::Bar& bar) {
    const auto from = static_cast<std::size_t>(bar.end + 2 * view.us());
    const std::size_t to = std::min(view.size(), from + static_cast<std::size_t>(14 * view.us()));
    std::size_t top = from;
    for (std::size_t i = from; i < to; ++i)
        if (std::abs(view.line.colour(i)) > std::abs(view.line.colour(top))) top = i;
    const double height = std::abs(view.line.colour(top));
    const auto fits = [&](double h) { return h > least_composite * view.white && h < most_composite * view.white; };
    if (top <= from || !fits(height) || !fits(view.smooth[top])) return std::nullopt;
    std::size_t left = top, right = top;
    while (left > from && std::abs(view.line.colour(left)) > height / 2) --left;
    while (right + 1 < to && std::abs(view.line.colour(right)) > height / 2) ++right;
    const double width_us = static_cast<double>(right - left) / view.us();
    if (width_us < narrowest_composite_us || width_us > widest_composite_us) return std::nullopt;
    // A sine-squared pulse reaches as far to either side as it is wide at half height; the Gaussian adds to that.
    const auto reach = static_cast<std::size_t>((width_us + 0.5) * view.us());
    if (top < reach + view.start() || top + reach >= view.size()) return std::nullopt;
    const std::complex<double> to_real = std::conj(view.line.colour(top)) / height;
    double chroma = 0, luma = 0, chroma_moment = 0, luma_moment = 0, squares = 0;
    for (std::size_t i = top - reach; i <= top + reach; ++i) {
        const double x = static_cast<double>(i) - static_cast<double>(top), c = (view.line.colour(i) * to_real).real();
        chroma += c, chroma_moment += c * x;
        luma += view.smooth[i], luma_moment += view.smooth[i] * x;
        squares += x * x;
    }
    // White noise gives each part of chrominance twice its variance.
    const auto n = static_cast<double>(2 * reach + 1);
    return TestSignals::CompositePulse{chroma / luma, (chroma_moment / chroma - luma_moment / luma) / view.us(),
                                       std::sqrt(3 * n) / luma, std::sqrt(3 * squares) / luma / view.us()};
}

}  // namespace

TestSignals find_test_signals(const AlignedLines& lines, const AveragedLine& line, double white, double t_us) {
    View view{lines, line, white, t_us, lines.smooth(line)};
    view.take_off_base();
    TestSignals signals;
    signals.base = view.base;
    signals.staircase = find_staircase(view);
    if (signals.staircase) signals.coloured_staircase = is_coloured(*signals.staircase, white);
    signals.bar = find_bar(view);
    if (!signals.bar) return signals;
    signals.pulse = find_pulse(view, *signals.bar);
    if (signals.pulse) signals.composite = find_composite(view, *signals.bar);
    return signals;
}

}  // namespace guardband::measure
