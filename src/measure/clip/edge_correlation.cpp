#include "measure/clip/edge_correlation.h"

#include <algorithm>
#include <cmath>

#include "dsp/slope_filter.h"

namespace guardband::measure {
namespace {

/// Above 1: no window is explained so well that it outweighs all others.
constexpr float unlikeliness = 1.05F;
/// The peak must stand so many times as high as what luma explains of the colour by chance, at the most distant lags.
constexpr double least_contrast = 2;
constexpr double most_uncertain_share = 0.2;  ///< of the range of lags
/// Added for what parts of the picture have in common, samples.
constexpr double systematic = 0.05;
/// By how much more each scale scatters than its parts tell, from the finest: the coarser, the fewer edges a window
/// holds, and a scale is taken just when its parts happen to agree.
constexpr std::array<double, 2> doubts{1, 1.3};

double square(float value) { return static_cast<double>(value) * static_cast<double>(value); }

/// Where the polynomial through five values around the middle one is greatest, steps from the middle.
double quartic_peak(const double* v) {
    // Derivatives at the middle from central differences, exact for a quartic.
    const double d1 = (v[-2] - 8 * v[-1] + 8 * v[1] - v[2]) / 12,
                 d2 = (-v[-2] + 16 * v[-1] - 30 * v[0] + 16 * v[1] - v[2]) / 12;
    const double d3 = (-v[-2] + 2 * v[-1] - 2 * v[1] + v[2]) / 2, d4 = v[-2] - 4 * v[-1] + 6 * v[0] - 4 * v[1] + v[2];
    double at = 0;
    for (int i = 0; i < 8; ++i) {
        const double slope = d1 + at * (d2 + at * (d3 / 2 + at * d4 / 6)), bend = d2 + at * (d3 + at * d4 / 2);
        if (bend >= 0) return std::clamp(-d1 / std::min(d2, -1e-12), -0.5, 0.5);
        at = std::clamp(at - slope / bend, -0.75, 0.75);
    }
    return at;
}

}  // namespace

EdgeCorrelation::EdgeCorrelation(int step, const std::vector<CorrelationScale>& scales, double floor)
    : step_(step), floor_(static_cast<float>(floor)) {
    for (const CorrelationScale& scale : scales) {
        scales_.push_back({scale, dsp::slope_weights(scale.sigma), dsp::slope_weights(scale.sigma / step),
                           LagCurves(static_cast<std::size_t>(2 * scale.half_lags + 1))});
    }
}

void EdgeCorrelation::add(std::span<const ColourRow> rows, std::size_t band, int skip) {
    if (rows.empty()) return;
    for (Sums& sums : scales_) add_at(sums, rows, band, skip);
}

void EdgeCorrelation::filter(const Sums& sums, const ColourRow& row, std::size_t count, Filtered& out) {
    const auto filtered = [this](std::span<const float> from, const std::vector<float>& weights,
                                 std::vector<float>& to) {
        to.resize(from.size());
        kernels_.odd_filter(from.data(), static_cast<int>(from.size()), weights.data(),
                            static_cast<int>(weights.size()), to.data());
    };
    filtered(row.cb, sums.chroma_weights, out.chroma[0]);
    filtered(row.cr, sums.chroma_weights, out.chroma[1]);
    const auto step = static_cast<std::size_t>(step_);
    out.phases.resize(step);
    filtered(row.luma, sums.luma_weights, filtered_luma_);
    for (std::size_t p = 0; p < step; ++p) {
        out.phases[p].resize(count);
        for (std::size_t k = 0; k < count; ++k) out.phases[p][k] = filtered_luma_[step * k + p];
    }
}

void EdgeCorrelation::add_at(Sums& sums, std::span<const ColourRow> rows, std::size_t band, int skip) {
    const CorrelationScale& scale = sums.scale;
    const auto count = std::min(rows.front().cb.size(), rows.front().luma.size() / static_cast<std::size_t>(step_));
    rows_.resize(rows.size());
    for (std::size_t r = 0; r < rows.size(); ++r) filter(sums, rows[r], count, rows_[r]);
    // Windows whose lags all lie where the filters have said something.
    const int reach = (scale.half_lags * scale.lag_step) / step_ + static_cast<int>(sums.chroma_weights.size()) + 1;
    const int last = static_cast<int>(count) - reach - scale.window;
    const auto half = static_cast<std::size_t>(scale.window / 2);
    for (int first = reach + skip % scale.window; first <= last; first += scale.window)
        add_window(sums, static_cast<std::size_t>(first),
                   sums.curves.part(band, (static_cast<std::size_t>(first) + half) * LagCurves::zones / count));
}

float EdgeCorrelation::energy(const float* from, int count) const {
    float sum = 0;
    kernels_.correlate(from, from, count, 1, &sum);
    return sum;
}

void EdgeCorrelation::correlate(std::size_t phase, std::size_t first, int first_m, int count, int window) {
    const auto lags = static_cast<std::size_t>(count), length = static_cast<std::size_t>(window);
    const auto from = static_cast<std::size_t>(static_cast<int>(first) + first_m);
    for (auto& products : products_) products.assign(lags, 0);
    luma_energies_.assign(lags, 0);
    spare_.resize(lags);
    for (const Filtered& row : rows_) {
        const std::vector<float>& luma = row.phases[phase];
        for (std::size_t c = 0; c < 2; ++c) {
            kernels_.correlate(row.chroma[c].data() + first, luma.data() + from, window, count, spare_.data());
            for (std::size_t i = 0; i < lags; ++i) products_[c][i] += spare_[i];
        }
        auto sum = static_cast<double>(energy(luma.data() + from, window));
        for (std::size_t i = 0; i < lags; ++i) {
            if (i > 0) sum += square(luma[from + i - 1 + length]) - square(luma[from + i - 1]);
            luma_energies_[i] += sum;
        }
    }
}

void EdgeCorrelation::add_window(const Sums& sums, std::size_t first, Curve& curve) {
    const CorrelationScale& scale = sums.scale;
    const float least = floor_ * floor_ * static_cast<float>(scale.window) * static_cast<float>(rows_.size());
    float chroma_energy = 0;
    for (const Filtered& row : rows_)
        for (const auto& chroma : row.chroma) chroma_energy += energy(chroma.data() + first, scale.window);
    if (chroma_energy < least) return;
    const int farthest = scale.half_lags * scale.lag_step;
    for (int p = 0; p < step_; ++p) {
        // Lags step · m + p from −farthest to farthest.
        const int first_m = -((farthest + p) / step_), end_m = (farthest - p) / step_ + 1;
        bool used = false;
        for (int m = first_m; m < end_m; ++m) used = used || (step_ * m + p) % scale.lag_step == 0;
        if (!used) continue;
        correlate(static_cast<std::size_t>(p), first, first_m, end_m - first_m, scale.window);
        for (int m = first_m; m < end_m; ++m) {
            const int lag = step_ * m + p;
            if (lag % scale.lag_step != 0) continue;
            const auto i = static_cast<std::size_t>(m - first_m);
            const float explained = products_[0][i] * products_[0][i] + products_[1][i] * products_[1][i];
            const float energies = (static_cast<float>(luma_energies_[i]) + least) * (chroma_energy + least);
            const float likeness = std::log(1 - explained / energies / unlikeliness);
            curve[static_cast<std::size_t>(lag / scale.lag_step + scale.half_lags)] -= static_cast<double>(likeness);
        }
    }
}

/// Place of the greatest value, steps from the middle; nothing at the ends.
std::optional<double> EdgeCorrelation::peak(const Curve& curve) {
    const auto at = std::ranges::max_element(curve) - curve.begin();
    if (at < 2 || at + 2 >= static_cast<std::ptrdiff_t>(curve.size())) return std::nullopt;
    const auto middle = static_cast<std::ptrdiff_t>(curve.size() / 2);
    // The peak is about as a Gaussian: its logarithm is nearer to a polynomial.
    std::array<double, 5> logs{};
    for (std::size_t i = 0; i < logs.size(); ++i) {
        const double value = curve[static_cast<std::size_t>(at) + i - 2];
        if (value <= 0) return std::nullopt;
        logs[i] = std::log(value);
    }
    return static_cast<double>(at - middle) + quartic_peak(logs.data() + 2);
}

std::optional<PlacedLag> EdgeCorrelation::find_at(const Sums& sums) {
    const Curve all = sums.curves.total();
    const double by_chance = (all[0] + all[1] + all[all.size() - 2] + all.back()) / 4;
    if (*std::ranges::max_element(all) < least_contrast * by_chance) return std::nullopt;
    auto found = sums.curves.place(peak);
    if (!found || found->uncertainty > most_uncertain_share * sums.scale.half_lags) return std::nullopt;
    const double step = sums.scale.lag_step;
    return PlacedLag{found->lag * step, std::hypot(found->uncertainty * step, systematic)};
}

std::optional<PlacedLag> EdgeCorrelation::find() const {
    std::optional<PlacedLag> best;
    for (std::size_t i = 0; i < scales_.size(); ++i) {
        auto found = find_at(scales_[i]);
        if (!found) continue;
        found->uncertainty *= doubts[std::min(i, doubts.size() - 1)];
        if (!best || found->uncertainty < best->uncertainty) best = found;
    }
    return best;
}

}  // namespace guardband::measure
