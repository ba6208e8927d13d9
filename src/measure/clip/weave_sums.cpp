#include "measure/clip/weave_sums.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace guardband::measure {
namespace {

/// Cells whose motion, as a share of their energies, is well below this count little, so that a small moving object
/// isn't lost in the noise of a still picture. White noise gives a cell of 80 × 8 samples shares of 0.02 RMS, noise of
/// a third of its bandwidth 0.035.
constexpr double quiet_share = 0.08;

/// Below one squared code per sample, four energies together, a cell holds rounding and no picture.
constexpr double empty_energy = CombEnergy::cell_samples * CombEnergy::cell_rows;

struct Band {
    double motion = 0, order = 0, weight = 0, growth = 0;
};

/// (c₂ − c₁) ÷ (c₂ + c₁) of the two fields' blocks that lie in a cell.
double cell_growth(const FrameFeatures& features, int x, int band) {
    constexpr int blocks = CombEnergy::cell_samples / FrameFeatures::segment;
    static_assert(CombEnergy::cell_samples % FrameFeatures::segment == 0 &&
                  CombEnergy::cell_rows == FrameFeatures::block_rows);
    std::uint64_t once = 0, twice = 0;
    for (std::size_t parity = 0; parity < 2; ++parity)
        for (int i = 0; i < blocks; ++i) {
            once += features.change[parity].at(x * blocks + i, band);
            twice += features.change_over_two[parity].at(x * blocks + i, band);
        }
    twice *= FrameFeatures::over_two_step;
    return once + twice == 0
               ? 0
               : (static_cast<double>(twice) - static_cast<double>(once)) / static_cast<double>(once + twice);
}

Band band_sums(const FrameFeatures& features, const Grid<float>& own_before, int band) {
    Band sum;
    for (int x = 0; x < own_before.width; ++x) {
        const double own =
            static_cast<double>(features.own.cells.at(x, band)) + static_cast<double>(own_before.at(x, band));
        const double later_top = static_cast<double>(features.top_with_previous_bottom.cells.at(x, band));
        const double later_bottom = static_cast<double>(features.bottom_with_previous_top.cells.at(x, band));
        const double all = own + later_top + later_bottom;
        if (all < empty_energy) continue;
        const double motion = (later_top + later_bottom - own) / all, order = (later_bottom - later_top) / all;
        const double weight = motion * motion / (motion * motion + quiet_share * quiet_share);
        sum.motion += weight * motion;
        sum.order += weight * order;
        sum.weight += weight;
        sum.growth += weight * cell_growth(features, x, band);
    }
    return sum;
}

}  // namespace

WeaveSums& WeaveSums::operator+=(const WeaveSums& other) {
    motion += other.motion, order += other.order;
    motion_squares += other.motion_squares, order_squares += other.order_squares, products += other.products;
    weight += other.weight, growth += other.growth;
    frames += other.frames;
    return *this;
}

double WeaveSums::significance() const { return motion_squares > 0 ? motion / std::sqrt(motion_squares) : 0; }

double WeaveSums::order_significance() const { return order_squares > 0 ? order / std::sqrt(order_squares) : 0; }

double WeaveSums::ratio_error() const {
    if (motion == 0) return std::numeric_limits<double>::infinity();
    const double r = ratio();
    return std::sqrt(std::max(0.0, order_squares - 2 * r * products + r * r * motion_squares)) / std::abs(motion);
}

WeaveSums WeaveSummer::add(const FrameFeatures& features) {
    WeaveSums sums;
    if (features.has_two_previous) {
        for (int band = 0; band < own_before_.height; ++band) {
            const Band b = band_sums(features, own_before_, band);
            sums.motion += b.motion, sums.order += b.order;
            sums.motion_squares += b.motion * b.motion, sums.order_squares += b.order * b.order;
            sums.products += b.motion * b.order;
            sums.weight += b.weight, sums.growth += b.growth;
        }
        sums.frames = 1;
    }
    own_before_ = features.own.cells;  // same size each time: no allocation
    return sums;
}

}  // namespace guardband::measure
