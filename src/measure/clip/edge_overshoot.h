#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "measure/clip_measurement.h"

namespace guardband::measure {

/// `edge_overshoot`, % of the step: by how much luma overshoots at upright edges between flat areas, before or after
/// them, whichever is more. A limited band leaves some of it (9 % after a band that ends at once), sharpening the rest.
///
/// Method: in some lines of each frame steps are looked for that are high, made within a few samples and flat on both
/// sides some way off; each is laid on the others by where it is half way up, scaled to a step of 1. The mean over all
/// shows what they have in common; the figure is what its lobes beside the edge leave the flat parts by. Bias below 1 %
/// of the step, from a few hundred edges at 32 dB S/N or better. Ringing that still goes on where the sides count as
/// flat (slower than 2.5 MHz and above 15 %) reads up to an eighth too low, and the uncertainty says so. Needs
/// lettering, walls or the like. Can't tell: bright or dark outlines in the scene from those that a circuit drew.
class EdgeOvershoot final : public ClipMeasurement {
public:
    explicit EdgeOvershoot(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    static constexpr int reach = 14, per_sample = 4;  ///< of the mean, samples to either side; places in one
    static constexpr std::size_t places = 2 * reach * per_sample + 1;

    void see_line(const media::Frame& frame, int y);
    void see_edge(int at);
    void add(double half_way, int at, float before, float step);
    double half_way_after(int x, float half) const;
    double mean(std::size_t place) const;
    double lobe(std::size_t place, bool after) const;
    double largest_lobe(bool after) const;
    double unevenness() const;

    bool usable_;
    std::vector<float> line_;
    std::array<double, places> sums_{}, squares_{};
    std::array<std::int64_t, places> counts_{};
    std::int64_t frames_ = 0, edges_ = 0;
};

}  // namespace guardband::measure
