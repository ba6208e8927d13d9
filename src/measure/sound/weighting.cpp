#include "measure/sound/weighting.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace guardband::measure {
namespace {

// IEC 60386, table 1: from memory.
constexpr std::array points{WeightingPoint{0.1, -48.0},   WeightingPoint{0.2, -30.6},  WeightingPoint{0.315, -19.7},
                            WeightingPoint{0.4, -15.0},   WeightingPoint{0.63, -8.4},  WeightingPoint{0.8, -6.0},
                            WeightingPoint{1.0, -4.2},    WeightingPoint{1.6, -1.8},   WeightingPoint{2.0, -0.9},
                            WeightingPoint{4.0, 0.0},     WeightingPoint{6.3, -0.9},   WeightingPoint{10.0, -2.1},
                            WeightingPoint{20.0, -5.9},   WeightingPoint{40.0, -10.4}, WeightingPoint{63.0, -14.2},
                            WeightingPoint{100.0, -17.3}, WeightingPoint{200.0, -23.0}};

constexpr double slope_below_db_octave = 18, slope_above_db_octave = -6;
/// Where the meter's own band ends, beyond the last point, and by which order: 0.02 dB at 200 Hz.
constexpr double band_end_hz = 280;
constexpr int band_end_order = 8;
constexpr double wow_low_hz = 0.1, wow_high_hz = 6, flutter_high_hz = 200;
constexpr int edge_order = 4;

double low_pass(double hz, double edge_hz, int order) { return 1 / std::sqrt(1 + std::pow(hz / edge_hz, 2 * order)); }
double high_pass(double hz, double edge_hz, int order) {
    return hz <= 0 ? 0 : 1 / std::sqrt(1 + std::pow(edge_hz / hz, 2 * order));
}

double octaves(std::size_t i) { return std::log2(points[i].hz); }
double chord(std::size_t i) { return (points[i + 1].db - points[i].db) / (octaves(i + 1) - octaves(i)); }

/// Slope of the curve at a point, dB an octave: the harmonic mean of the chords' to either side, none at a top, so that
/// the curve turns only where the points do (Fritsch and Butland, 1984; from memory).
double slope_at(std::size_t i) {
    if (i == 0) return slope_below_db_octave;
    if (i + 1 == points.size()) return slope_above_db_octave;
    const double before = chord(i - 1), after = chord(i);
    return before * after <= 0 ? 0 : 2 * before * after / (before + after);
}

/// Hermite's cubic through both ends of an interval with the slopes there.
double between(std::size_t i, double octave) {
    const double width = octaves(i + 1) - octaves(i), t = (octave - octaves(i)) / width;
    const double rise = points[i + 1].db - points[i].db;
    const double start = slope_at(i) * width, end = slope_at(i + 1) * width;
    return points[i].db + t * (start + t * (3 * rise - 2 * start - end + t * (start + end - 2 * rise)));
}

double curve_db(double hz) {
    const double octave = std::log2(hz);
    if (hz <= points.front().hz) return points.front().db + slope_below_db_octave * (octave - octaves(0));
    if (hz >= points.back().hz) return points.back().db + slope_above_db_octave * (octave - octaves(points.size() - 1));
    const auto after = std::ranges::upper_bound(points, hz, {}, &WeightingPoint::hz);
    return between(static_cast<std::size_t>(after - points.begin()) - 1, octave);
}

}  // namespace

std::span<const WeightingPoint> weighting_points() { return points; }

double flutter_response(FlutterBand band, double hz) {
    if (hz <= 0) return 0;
    switch (band) {
        case FlutterBand::Weighted:
            return std::pow(10, curve_db(hz) / 20) * low_pass(hz, band_end_hz, band_end_order);
        case FlutterBand::Wow:
            return high_pass(hz, wow_low_hz, edge_order) * low_pass(hz, wow_high_hz, edge_order);
        case FlutterBand::Flutter:
            return high_pass(hz, wow_high_hz, edge_order) * low_pass(hz, flutter_high_hz, edge_order);
    }
    return 0;
}

}  // namespace guardband::measure
