#pragma once

#include <cstdint>
#include <vector>

#include "measure/clip/silent_blocks.h"
#include "measure/clip_measurement.h"

namespace guardband::measure {

/// `clipped_black`, `clipped_white`, shares of the luma samples that stand at a limit where the signal was cut.
///
/// Method: a sample counts at the coding limits of its depth (8 bits: 0 and 1, 254 and 255; 10 bits: 0 to 4, 1019 to
/// 1023; with full range declared only the last code). Where noise is cut inside that range, by a capture chain that
/// stops at black or white, the samples that the noise would have put beyond the limit stand on the last code that
/// occurs, many more than on the codes next to it; how many more follows from the noise, which the quietest blocks
/// show. That last code then counts. In a picture without noise a last code says nothing, so graphics that are flat at
/// white are not taken for clipped. Bias: what the signal itself puts on the limiting code counts too, below 0.4 /
/// noise in codes of the share that was cut. Scatter: every fourth row counts. Can't tell: limits softened by a codec
/// after the cut. Black that was cut more than two noises deep holds no noise; it counts where the picture goes on with
/// noise on both sides of it (`SilentBlocks`), so that bars and blanking that a converter put in don't, but for what
/// they fill of a block at their edge. Can't tell: titles without noise, keyed over a noisy picture at its highest
/// code, from white that was cut.
class Clipping final : public ClipMeasurement {
public:
    explicit Clipping(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    /// The samples from one end of the codes inward: `at(0)` is the outermost code.
    class Inward;

    double noise_codes() const;
    std::int64_t cut_without_noise(const Inward& end, std::int64_t all) const;

    bool is_lossy_;
    int bit_depth_;
    int coding_margin_;  ///< codes at either end that no picture should reach, less one
    std::vector<std::int64_t> codes_;
    std::vector<double>
        quiet_blocks_;  ///< per frame, squared change per sample of a quiet block; a bounded number of them
    SilentBlocks silent_;
    std::int64_t frames_ = 0;
};

}  // namespace guardband::measure
