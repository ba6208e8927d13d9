#include "measure/clip/band_course.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "dsp/robust.h"
#include "dsp/uneven_sines.h"

namespace guardband::measure {
namespace {

constexpr double turn = 2 * std::numbers::pi;
/// Of the height, from first to last: below, bands stand.
constexpr double least_drift = 0.04;
constexpr double least_swing = 0.015, slowest_swing_hz = 0.4, fewest_swings = 1.5;
constexpr double even_share = 0.25;

/// Half a turn either way is the way round.
double wrapped(double turns) { return turns - std::round(turns); }

std::optional<double> spacing_of(std::span<const BandsOfFrame> frames, bool& even) {
    std::vector<double> apart;
    for (const BandsOfFrame& frame : frames)
        for (std::size_t i = 1; i < frame.centres.size(); ++i)
            apart.push_back(static_cast<double>(frame.centres[i] - frame.centres[i - 1]));
    if (2 * apart.size() < frames.size()) return std::nullopt;
    const double middle = dsp::median(std::span<const double>(apart));
    even = dsp::spread(std::span<const double>(apart)) <= even_share * middle;
    return middle > 0 ? std::optional(middle) : std::nullopt;
}

/// Place of a frame's bands as a part of their spacing.
double phase_of(const BandsOfFrame& frame, double spacing) {
    std::complex<double> sum;
    for (const float centre : frame.centres) sum += std::polar(1.0, turn * static_cast<double>(centre) / spacing);
    return std::arg(sum) / turn;
}

/// Places over time, round and round.
dsp::UnevenSeries places_of(std::span<const BandsOfFrame> frames, double spacing) {
    dsp::UnevenSeries out;
    double last = 0, place = 0;
    for (const BandsOfFrame& frame : frames) {
        const double phase = phase_of(frame, spacing);
        place += out.values.empty() ? phase : wrapped(phase - last);
        last = phase;
        out.times_s.push_back(frame.time_s), out.values.push_back(place * spacing);
    }
    return out;
}

struct Line {
    double slope = 0, at_first = 0;
};

Line line_through(const dsp::UnevenSeries& series) {
    const auto n = static_cast<double>(series.values.size());
    double t = 0, v = 0, tt = 0, tv = 0;
    for (std::size_t i = 0; i < series.values.size(); ++i) {
        const double at = series.times_s[i] - series.times_s.front();
        t += at, v += series.values[i], tt += at * at, tv += at * series.values[i];
    }
    const double spread = n * tt - t * t, slope = spread > 0 ? (n * tv - t * v) / spread : 0;
    return {slope, (v - slope * t) / n};
}

void add_swing(dsp::UnevenSeries series, const Line& line, double seconds, BandCourse& out) {
    if (seconds <= 0) return;
    for (std::size_t i = 0; i < series.values.size(); ++i)
        series.values[i] -= line.at_first + line.slope * (series.times_s[i] - series.times_s.front());
    const double frames_per_s = static_cast<double>(series.values.size() - 1) / seconds;
    const auto found =
        dsp::strongest_sine(series, {std::max(slowest_swing_hz, fewest_swings / seconds), 0.4 * frames_per_s});
    if (found && found->amplitude() >= least_swing) out.swing = found->amplitude(), out.swing_hz = found->hz;
}

}  // namespace

BandCourse course_of(std::span<const BandsOfFrame> frames) {
    BandCourse out;
    if (frames.empty()) return out;
    std::vector<double> counts;
    for (const BandsOfFrame& frame : frames) counts.push_back(static_cast<double>(frame.centres.size()));
    out.bands = static_cast<int>(std::lround(dsp::median(std::span<const double>(counts))));
    if (out.bands > 1) out.spacing = spacing_of(frames, out.even);
    const dsp::UnevenSeries places = places_of(frames, out.spacing.value_or(1));
    const Line line = line_through(places);
    const double seconds = places.times_s.back() - places.times_s.front(), round = out.spacing.value_or(1);
    out.start = line.at_first - std::floor(line.at_first / round) * round;
    if (std::abs(line.slope) * seconds >= least_drift) out.drift_per_s = line.slope;
    add_swing(places, line, seconds, out);
    return out;
}

}  // namespace guardband::measure
