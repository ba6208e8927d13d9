#include "measure/clip/edge_filter.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <span>
#include <utility>

namespace guardband::measure {
namespace {

constexpr int n = EdgeFilter::taps;
using Row = std::array<double, n>;
using Matrix = std::array<Row, n>;

/// RMS error of the level of blanking, 8-bit codes: what clamping leaves.
constexpr double blanking_error = 1.5;
/// 10 % to 90 % of a Gaussian rise, in standard deviations.
constexpr double rise_in_deviations = 2.5631;
/// Samples of the window whose misfit is looked at: blanking and the edge, not the picture behind.
constexpr int judged = EdgeFilter::before + 3;
/// Where outlines under an edge are looked for, in rises behind it, and how soft they are.
constexpr std::array outlines_in_rises{-0.3, 0.2, 0.7};
constexpr double outline_softness_px = 1;

/// Solves a symmetric positive definite system for several right sides, in place, by Cholesky's way.
void solve(Matrix& a, std::span<Row> sides) {
    for (std::size_t j = 0; j < n; ++j) {
        for (std::size_t k = 0; k < j; ++k) a[j][j] -= a[j][k] * a[j][k];
        a[j][j] = std::sqrt(a[j][j]);
        for (std::size_t i = j + 1; i < n; ++i) {
            for (std::size_t k = 0; k < j; ++k) a[i][j] -= a[i][k] * a[j][k];
            a[i][j] /= a[j][j];
        }
    }
    for (Row& b : sides) {
        for (std::size_t i = 0; i < n; ++i) {
            for (std::size_t k = 0; k < i; ++k) b[i] -= a[i][k] * b[k];
            b[i] /= a[i][i];
        }
        for (std::size_t i = n; i-- > 0;) {
            for (std::size_t k = i + 1; k < n; ++k) b[i] -= a[k][i] * b[k];
            b[i] /= a[i][i];
        }
    }
}

double dot(const Row& a, const Row& b) {
    double sum = 0;
    for (std::size_t i = 0; i < n; ++i) sum += a[i] * b[i];
    return sum;
}

float dot(const std::array<float, n>& a, const float* b) {
    std::array<float, 4> sums{};  // four at once, which the compiler turns into a vector
    for (std::size_t i = 0; i < n; i += sums.size())
        for (std::size_t k = 0; k < sums.size(); ++k) sums[k] += a[i + k] * b[i + k];
    return sums[0] + sums[1] + sums[2] + sums[3];
}

}  // namespace

double PictureCourse::squared_difference(double distance) const {
    constexpr double roughness = 1.7;  // between a kinked course and a smooth one
    return -2 * spread * spread * std::expm1(-std::pow(std::abs(distance) / reach, roughness));
}

double EdgeNoise::variance(double distance_px) const {
    constexpr double reach_px = 2.5;
    return everywhere * everywhere + on_rise * on_rise * std::exp(-std::pow(distance_px / reach_px, 2));
}

EdgeFilter::EdgeFilter(double rise_px, const EdgeNoise& noise, const PictureCourse& course) {
    phases_.reserve(phases);
    std::array<double, taps> apart{};
    for (std::size_t i = 0; i < taps; ++i) apart[i] = course.squared_difference(static_cast<double>(i));
    for (int i = 0; i < phases; ++i) phases_.push_back(make_phase((i + 0.5) / phases, rise_px, noise, course, apart));
}

/// @param apart  squared differences of the picture's samples so many apart
EdgeFilter::Phase EdgeFilter::make_phase(double fraction, double rise_px, const EdgeNoise& noise,
                                         const PictureCourse& course, const std::array<double, taps>& apart) {
    const double deviation = rise_px / rise_in_deviations;
    Row place{}, step{}, slope{};
    for (std::size_t i = 0; i < n; ++i) {
        place[i] = static_cast<double>(i) - before - fraction;
        step[i] = 0.5 * std::erfc(-place[i] / deviation / std::numbers::sqrt2);
        slope[i] = std::exp(-0.5 * place[i] * place[i] / (deviation * deviation)) /
                   (deviation * std::sqrt(2 * std::numbers::pi));
    }
    // Covariance of what the picture does at two places beyond what it is at the edge, from its squared differences.
    Row from_edge{};
    for (std::size_t i = 0; i < n; ++i) from_edge[i] = course.squared_difference(place[i]);
    Matrix covariance{};
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t j = 0; j <= i; ++j)  // the other half is the same and not read
            covariance[i][j] = (i == j ? noise.variance(place[i]) : 0) + blanking_error * blanking_error +
                               step[i] * step[j] * 0.5 * (from_edge[i] + from_edge[j] - apart[i - j]);
    std::array<Row, 2 + outlines> weighted{step, slope};
    std::array<Row, outlines> patterns{};
    for (std::size_t k = 0; k < outlines; ++k) {
        const double outline = outlines_in_rises[k] * rise_px;
        for (std::size_t i = 0; i < n; ++i)
            patterns[k][i] = step[i] * 0.5 * std::erfc((place[i] - outline) / outline_softness_px);
        weighted[2 + k] = patterns[k];
    }
    solve(covariance, weighted);
    const double ss = dot(step, weighted[0]), sh = dot(step, weighted[1]), hh = dot(slope, weighted[1]);
    const double determinant = ss * hh - sh * sh;
    Phase out;
    for (std::size_t i = 0; i < n; ++i) {
        out.height[i] = static_cast<float>((hh * weighted[0][i] - sh * weighted[1][i]) / determinant);
        // An edge further right lowers the row by the slope.
        out.moved[i] = static_cast<float>(-(ss * weighted[1][i] - sh * weighted[0][i]) / determinant);
        out.step[i] = static_cast<float>(step[i]), out.slope[i] = static_cast<float>(slope[i]);
    }
    for (std::size_t k = 0; k < outlines; ++k) {
        // What an outline adds, without what height and displacement make up for.
        const Row& pattern = patterns[k];
        const double with_step = dot(pattern, weighted[0]), with_slope = dot(pattern, weighted[1]);
        const double height = (hh * with_step - sh * with_slope) / determinant,
                     moved = (ss * with_slope - sh * with_step) / determinant;
        const double information = dot(pattern, weighted[2 + k]) - height * with_step - moved * with_slope;
        for (std::size_t i = 0; i < n; ++i)
            out.outline[k][i] = static_cast<float>(
                (weighted[2 + k][i] - height * weighted[0][i] - moved * weighted[1][i]) / std::sqrt(information));
    }
    out.moved_variance = static_cast<float>(ss / determinant);
    return out;
}

void EdgeFilter::level(const float* window, const float* picture, int first, float guess, float* out) const {
    const float fraction = guess - static_cast<float>(first);
    const int index = std::clamp(static_cast<int>(fraction * phases), 0, phases - 1);
    const Phase& phase = phases_[static_cast<std::size_t>(index)];
    const float height = picture[before] + fraction * (picture[before + 1] - picture[before]);
    for (std::size_t i = 0; i < taps; ++i) out[i] = window[i] - phase.step[i] * (picture[i] - height);
}

float EdgeFilter::strain(const float* window, int first, float place) const {
    const float fraction = place - static_cast<float>(first);
    const int index = std::clamp(static_cast<int>(fraction * phases), 0, phases - 1);
    const Phase& phase = phases_[static_cast<std::size_t>(index)];
    float most = 0;
    for (const auto& outline : phase.outline) {
        const float contrast = dot(outline, window);
        most = std::max(most, contrast * contrast);
    }
    return most;
}

EdgeFit EdgeFilter::step(const float* window, int first, float guess) const {
    const float fraction = guess - static_cast<float>(first);
    const int index = std::clamp(static_cast<int>(fraction * phases), 0, phases - 1);
    const Phase& phase = phases_[static_cast<std::size_t>(index)];
    EdgeFit fit;
    fit.height = dot(phase.height, window);
    const float moved = dot(phase.moved, window);
    float squares = 0;
    for (std::size_t i = 0; i < judged; ++i) {
        const float left = window[i] - fit.height * phase.step[i] + moved * phase.slope[i];
        squares += left * left;
    }
    fit.misfit = squares / judged;
    const float height = std::max(fit.height, 1.0F);
    fit.variance = phase.moved_variance / (height * height);
    fit.place = static_cast<float>(first) + (static_cast<float>(index) + 0.5F) / phases + moved / height;
    return fit;
}

}  // namespace guardband::measure
