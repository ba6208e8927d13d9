#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "rows/signal_kernels.h"

namespace guardband::measure {

/// How fine the edges are that are compared, and how far.
struct CorrelationScale {
    double sigma = 1.5;  ///< of the Gaussian whose slope both signals are filtered by, luma samples
    int lag_step = 1;    ///< from one lag that is tried to the next, luma samples
    int half_lags = 12;  ///< lags on either side
    int window = 40;     ///< chroma samples that are compared at a time: about 10 independent ones after the filter
};

/// Finds by how much colour difference lies beside luma, from what both have in common, whatever sign and size it has.
///
/// Method: both are filtered to their edges of one scale. Window by window the share x of the colour's energy that
/// luma, moved by a lag, explains with a factor of its own for each colour difference; x² / (1.05 − x), about a log
/// likelihood but less moved by windows where little is explained, is summed for each lag. The sum is greatest at the
/// true lag: luma that has nothing to do with the colour raises all lags alike. Parts of the picture, bands by zones
/// along the rows, are summed apart, so that leaving out one after another tells the uncertainty; the scale that is
/// surest is taken.
class EdgeCorrelation {
public:
    /// @param step   luma samples per chroma sample
    /// @param floor  RMS in 8-bit codes, after the filter, below which a window shows nothing
    EdgeCorrelation(int step, const std::vector<CorrelationScale>& scales, double floor);

    static constexpr std::size_t bands = 6, zones = 3, groups = bands * zones;

    /// One row. @param luma  8-bit codes; its first sample stands where the first of the chroma does
    /// @param band  rows that lie near each other: 0 to `bands` - 1
    /// @param skip  chroma samples before the first window
    void add(std::span<const float> luma, std::span<const float> cb, std::span<const float> cr, std::size_t band,
             int skip);

    struct Found {
        double lag = 0;          ///< luma samples that luma lies to the right of the colour
        double uncertainty = 0;  ///< one standard uncertainty
    };
    /// Nothing if nothing stands out.
    std::optional<Found> find() const;

private:
    struct Sums {
        CorrelationScale scale;
        std::vector<float> luma_weights, chroma_weights;  ///< of the odd filters
        std::vector<std::vector<double>> by_group;        ///< per group and lag
    };
    using Curve = std::vector<double>;

    void add_at(Sums& sums, std::span<const float> luma, std::span<const float> cb, std::span<const float> cr,
                std::size_t band, int skip);
    void split_phases(std::size_t count);
    float energy(const float* from, int count) const;
    void add_window(Sums& sums, std::size_t first, std::size_t group);
    static Curve total(const Sums& sums, std::size_t left_out);
    static std::optional<double> peak(const Curve& curve);
    static std::optional<Found> find_at(const Sums& sums);

    int step_;
    float floor_;
    std::vector<Sums> scales_;
    const rows::SignalKernels& kernels_ = rows::fast_signal_kernels();
    std::vector<float> filtered_luma_;
    std::array<std::vector<float>, 2> filtered_chroma_;
    std::vector<std::vector<float>> phases_;  ///< every `step_`-th of the filtered luma, from each first one
    std::array<std::vector<float>, 2> products_;
};

}  // namespace guardband::measure
