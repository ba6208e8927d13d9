#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "measure/clip/colour_row.h"
#include "measure/clip/lag_curves.h"
#include "rows/signal_kernels.h"

namespace guardband::measure {

/// How edges are looked for along rows, in luma samples.
struct EdgeSearch {
    double colour_sigma = 4.5;  ///< of the Gaussian whose slope the colour is filtered by
    double luma_sigma = 1;      ///< and luma
    double blur_sigma = 1.5;    ///< by how much places of colour's edges scatter
    int half_lags = 16;         ///< lags on either side
    int window = 64;            ///< samples of each row that are taken together
};

/// Finds by how much colour difference lies beside luma, from the edges that both have, whatever sign and size they
/// have.
///
/// Method: colour is narrow, but an edge of it that stands by itself is placed to a small part of its width, where its
/// slope is greatest. Luma is not: what else a scene holds of it is as strong as the edge where both have energy, and
/// only its fine slope, which colour lacks, tells the edge from that. So the places of colour's edges are found, and
/// luma's fine slope is read around each, at each lag. Edges of a few rows and a piece of them are taken together: the
/// share x of the energy of what was read that the edges' two colour differences explain with a factor for each.
/// −log(1 − x), the log likelihood where how strong luma's texture is isn't known, is summed for each lag, and the
/// sum's peak is where luma lies: luma that has nothing to do with the colour raises all lags alike. Parts of the
/// picture, bands by zones along the rows, are summed apart, so that leaving out one after another tells the
/// uncertainty.
class ColourEdges {
public:
    /// @param step   luma samples per chroma sample
    ColourEdges(int step, const EdgeSearch& search);

    /// Rows of one length that are taken together.
    /// @param band  where they lie in the picture: 0 to `LagCurves::bands` - 1
    /// @param skip  samples before the first window
    void add(std::span<const ColourRow> rows, std::size_t band, int skip);

    /// Nothing if nothing stands out.
    std::optional<PlacedLag> find() const { return find_in(curves_); }
    /// Of one zone along the rows alone. @param zone  0 at the left to `LagCurves::zones` - 1
    std::optional<PlacedLag> find_at(std::size_t zone) const { return find_in(curves_.of_zone(zone)); }

private:
    using Curve = LagCurves::Curve;

    struct Edge {
        float place = 0;                ///< luma samples
        std::array<float, 2> height{};  ///< of both colour differences' slopes
        std::size_t row = 0;
        int window = 0;  ///< of those that are taken together

        float squares() const { return height[0] * height[0] + height[1] * height[1]; }
    };

    void find_edges(const ColourRow& row, std::size_t number, int skip);
    void add_window(std::span<const Edge> edges, Curve& curve);
    void read_luma(const Edge& edge);
    std::optional<PlacedLag> find_in(const LagCurves& curves) const;
    Curve blurred(const Curve& sum) const;
    std::optional<double> peak(const Curve& curve) const;
    bool stands_out(const Curve& curve) const;

    int step_;
    EdgeSearch search_;
    std::vector<float> colour_weights_, luma_weights_;  ///< of the odd filters
    LagCurves curves_;
    const rows::SignalKernels& kernels_ = rows::fast_signal_kernels();
    std::vector<Edge> edges_, near_;
    std::array<std::vector<float>, 2> colour_;
    std::vector<std::vector<float>> luma_;  ///< fine slope of each row
    std::vector<float> squares_, read_, energies_;
    std::array<std::vector<float>, 2> products_;
};

}  // namespace guardband::measure
