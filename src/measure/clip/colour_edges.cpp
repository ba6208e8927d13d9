#include "measure/clip/colour_edges.h"

#include <algorithm>
#include <cmath>

#include "dsp/slope_filter.h"

namespace guardband::measure {
namespace {

/// RMS in 8-bit codes, after the filters, below which colour has no edge and luma shows nothing.
constexpr float least_height = 4, floor_codes = 1;
/// Edges lower than this share of a window's highest are left out: they tell little, and cost as much.
constexpr float least_share = 0.4F;
/// Of the squared heights, added to each of the two: so that a colour difference that hardly changes explains little.
constexpr float doubt = 0.02F;
/// Above 1: no window is explained so well that it outweighs all others.
constexpr float unlikeliness = 1.05F;
/// By how much the peak must stand above what luma explains of the colour by chance: a share of that, and times its
/// scatter from lag to lag.
constexpr double least_rise = 0.08, least_scatters = 4;
constexpr double most_uncertain_share = 0.1;  ///< of the lags
/// By how much more the figure scatters than its parts tell, which share objects; and what they have in common,
/// samples.
constexpr double doubt_of_parts = 1.2, systematic = 0.05;

/// Weights that read a row at a part of a sample after the second of four, by a cubic.
std::array<float, 4> cubic_weights(float t) {
    return {((2 - t) * t - 1) * t / 2, ((3 * t - 5) * t * t + 2) / 2, ((4 - 3 * t) * t + 1) * t / 2,
            (t - 1) * t * t / 2};
}

/// Where the parabola through three values is greatest, from the middle one.
template <typename Number>
Number top_of_parabola(Number before, Number middle, Number after) {
    const Number bend = before - 2 * middle + after;
    return bend < 0 ? (before - after) / bend / 2 : 0;
}

}  // namespace

ColourEdges::ColourEdges(int step, const EdgeSearch& search)
    : step_(step),
      search_(search),
      colour_weights_(dsp::slope_weights(search.colour_sigma / step)),
      luma_weights_(dsp::slope_weights(search.luma_sigma)),
      curves_(static_cast<std::size_t>(2 * search.half_lags + 1)) {}

void ColourEdges::add(std::span<const ColourRow> rows, std::size_t band, int skip) {
    if (rows.empty() || rows.front().luma.empty()) return;
    edges_.clear();
    luma_.resize(std::max(luma_.size(), rows.size()));
    for (std::size_t r = 0; r < rows.size(); ++r) find_edges(rows[r], r, skip);
    const auto length = static_cast<float>(rows.front().luma.size());
    std::ranges::sort(edges_, {}, &Edge::window);
    for (auto first = edges_.begin(); first != edges_.end();) {
        const auto end = std::find_if(first, edges_.end(), [&](const Edge& e) { return e.window != first->window; });
        const int middle = first->window * search_.window + search_.window / 2 - skip;
        const auto zone = static_cast<std::size_t>(static_cast<float>(std::max(middle, 0)) * LagCurves::zones / length);
        add_window({first, end}, curves_.part(band, zone));
        first = end;
    }
}

/// Adds a row's edges: places where the slope of its colour is greatest, far enough from its ends.
void ColourEdges::find_edges(const ColourRow& row, std::size_t number, int skip) {
    const auto filtered = [this](std::span<const float> from, const std::vector<float>& weights,
                                 std::vector<float>& to) {
        to.resize(from.size());
        kernels_.odd_filter(from.data(), static_cast<int>(from.size()), weights.data(),
                            static_cast<int>(weights.size()), to.data());
    };
    filtered(row.cb, colour_weights_, colour_[0]);
    filtered(row.cr, colour_weights_, colour_[1]);
    filtered(row.luma, luma_weights_, luma_[number]);
    const auto count = std::min({row.cb.size(), row.cr.size(), row.luma.size() / static_cast<std::size_t>(step_)});
    squares_.resize(count);
    for (std::size_t k = 0; k < count; ++k) squares_[k] = colour_[0][k] * colour_[0][k] + colour_[1][k] * colour_[1][k];
    const auto margin = static_cast<std::size_t>(search_.half_lags + 3) + luma_weights_.size();
    const std::size_t end = std::max(margin, row.luma.size()) - margin;
    for (std::size_t k = 1; k + 1 < count; ++k) {
        if (squares_[k] < least_height * least_height || squares_[k] < squares_[k - 1] ||
            squares_[k] <= squares_[k + 1])
            continue;
        const float aside =
            top_of_parabola(std::sqrt(squares_[k - 1]), std::sqrt(squares_[k]), std::sqrt(squares_[k + 1]));
        const float place = static_cast<float>(step_) * (static_cast<float>(k) + aside);
        if (place >= static_cast<float>(margin) && place < static_cast<float>(end))
            edges_.push_back(
                {place, {colour_[0][k], colour_[1][k]}, number, (static_cast<int>(place) + skip) / search_.window});
    }
}

/// Luma's slope around an edge, from the least lag to the greatest.
void ColourEdges::read_luma(const Edge& edge) {
    const auto first = static_cast<std::size_t>(edge.place);
    const auto weights = cubic_weights(edge.place - static_cast<float>(first));
    kernels_.interpolate(luma_[edge.row].data() + first - static_cast<std::size_t>(search_.half_lags),
                         static_cast<int>(read_.size()), weights.data(), read_.data());
}

void ColourEdges::add_window(std::span<const Edge> edges, Curve& curve) {
    float highest = 0;
    for (const Edge& edge : edges) highest = std::max(highest, edge.squares());
    const std::size_t lags = curve.size();
    read_.resize(lags);
    energies_.assign(lags, floor_codes * floor_codes);
    for (auto& products : products_) products.assign(lags, 0);
    float bb = floor_codes, br = 0, rr = floor_codes;
    for (const Edge& edge : edges) {
        if (edge.squares() < least_share * least_share * highest) continue;
        const auto [b, r] = edge.height;
        bb += b * b, br += b * r, rr += r * r;
        read_luma(edge);
        for (std::size_t i = 0; i < lags; ++i) {
            products_[0][i] += b * read_[i], products_[1][i] += r * read_[i];
            energies_[i] += read_[i] * read_[i];
        }
    }
    const float added = doubt * (bb + rr);
    bb += added, rr += added;
    const float determinant = bb * rr - br * br;
    for (std::size_t i = 0; i < lags; ++i) {
        const float b = products_[0][i], r = products_[1][i];
        const float explained = (rr * b * b - 2 * br * b * r + bb * r * r) / determinant;
        curve[i] -= static_cast<double>(std::log(1 - explained / energies_[i] / unlikeliness));
    }
}

/// Blurred by how much the places of colour's edges scatter.
ColourEdges::Curve ColourEdges::blurred(const Curve& sum) const {
    Curve blurred(sum.size());
    for (std::size_t i = 0; i < sum.size(); ++i) {
        double weights = 0;
        for (std::size_t k = 0; k < sum.size(); ++k) {
            const double apart = (static_cast<double>(k) - static_cast<double>(i)) / search_.blur_sigma;
            const double weight = std::exp(-apart * apart / 2);
            blurred[i] += weight * sum[k], weights += weight;
        }
        blurred[i] /= weights;
    }
    return blurred;
}

/// Place of the greatest value, lags from the middle; nothing at the ends.
std::optional<double> ColourEdges::peak(const Curve& curve) const {
    const auto at = std::ranges::max_element(curve) - curve.begin();
    if (at < 2 || at + 2 >= static_cast<std::ptrdiff_t>(curve.size())) return std::nullopt;
    const double* top = curve.data() + at;
    return static_cast<double>(at) - search_.half_lags + top_of_parabola(top[-1], top[0], top[1]);
}

/// Whether the peak is more than what luma and colour have in common by chance at lags far from it.
bool ColourEdges::stands_out(const Curve& curve) const {
    const auto at = std::ranges::max_element(curve) - curve.begin();
    const double reach = 4 * search_.blur_sigma;
    double sum = 0, squares = 0, count = 0;
    for (std::ptrdiff_t i = 0; i < static_cast<std::ptrdiff_t>(curve.size()); ++i) {
        if (std::abs(static_cast<double>(i - at)) < reach) continue;
        const double value = curve[static_cast<std::size_t>(i)];
        sum += value, squares += value * value, ++count;
    }
    if (count < 4) return false;
    const double mean = sum / count, scatter = std::sqrt(std::max(0.0, squares / count - mean * mean));
    const double rise = curve[static_cast<std::size_t>(at)] - mean;
    return rise > least_rise * mean && rise > least_scatters * scatter;
}

std::optional<PlacedLag> ColourEdges::find_in(const LagCurves& curves) const {
    if (!stands_out(blurred(curves.total()))) return std::nullopt;
    auto found = curves.place([this](const Curve& sum) { return peak(blurred(sum)); });
    if (!found) return std::nullopt;
    const double uncertainty = doubt_of_parts * found->uncertainty;
    if (uncertainty > most_uncertain_share * search_.half_lags) return std::nullopt;
    found->uncertainty = std::hypot(uncertainty, systematic);
    return found;
}

}  // namespace guardband::measure
