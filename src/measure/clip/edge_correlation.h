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

/// How fine the edges are that are compared, and how far.
struct CorrelationScale {
    double sigma = 1.5;  ///< of the Gaussian whose slope both signals are filtered by, luma samples
    int lag_step = 1;    ///< from one lag that is tried to the next, luma samples
    int half_lags = 12;  ///< lags on either side
    int window = 40;     ///< chroma samples of each row that are compared at a time
};

/// Finds by how much colour difference lies beside luma, from what both have in common, whatever sign and size it has.
///
/// Method: both are filtered to their edges of one scale. A few rows that lie near one another are taken together, and
/// window by window along them the share x of the colour's energy is found that luma, moved by a lag, explains with a
/// factor of its own for each colour difference. −log(1 − x), the log likelihood where how strong the noise is isn't
/// known, is summed for each lag. The sum is greatest at the true lag: luma that has nothing to do with the colour
/// raises all lags alike. What scatters is luma beside the edges that goes with colour by chance; a window that is
/// short along the rows and takes in several of them has one edge and much of what is beside it. Parts of the picture,
/// bands by zones along the rows, are summed apart, so that leaving out one after another tells the uncertainty; the
/// scale that is surest is taken.
class EdgeCorrelation {
public:
    /// @param step   luma samples per chroma sample
    /// @param floor  RMS in 8-bit codes, after the filter, below which a window shows nothing
    EdgeCorrelation(int step, const std::vector<CorrelationScale>& scales, double floor);

    /// Rows of one length that are taken together.
    /// @param band  where they lie in the picture: 0 to `LagCurves::bands` - 1
    /// @param skip  chroma samples before the first window
    void add(std::span<const ColourRow> rows, std::size_t band, int skip);

    /// Nothing if nothing stands out.
    std::optional<PlacedLag> find() const;

private:
    struct Sums {
        CorrelationScale scale;
        std::vector<float> luma_weights, chroma_weights;  ///< of the odd filters
        LagCurves curves;
    };
    using Curve = LagCurves::Curve;

    /// A row of which edges of one scale are left.
    struct Filtered {
        std::vector<std::vector<float>> phases;  ///< every `step_`-th sample of luma, from each first one
        std::array<std::vector<float>, 2> chroma;
    };

    void add_at(Sums& sums, std::span<const ColourRow> rows, std::size_t band, int skip);
    void filter(const Sums& sums, const ColourRow& row, std::size_t count, Filtered& out);
    float energy(const float* from, int count) const;
    void add_window(const Sums& sums, std::size_t first, Curve& curve);
    /// For lags `step_` · m + `phase`, m from `first_m` on: luma's products with both colour differences, and energy.
    void correlate(std::size_t phase, std::size_t first, int first_m, int count, int window);
    static std::optional<double> peak(const Curve& curve);
    static std::optional<PlacedLag> find_at(const Sums& sums);

    int step_;
    float floor_;
    std::vector<Sums> scales_;
    const rows::SignalKernels& kernels_ = rows::fast_signal_kernels();
    std::vector<float> filtered_luma_, spare_;
    std::vector<Filtered> rows_;
    std::array<std::vector<float>, 2> products_;
    std::vector<double> luma_energies_;
};

}  // namespace guardband::measure
