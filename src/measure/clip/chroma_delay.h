#pragma once

#include <array>
#include <optional>
#include <vector>

#include "measure/clip/colour_edges.h"
#include "measure/clip/edge_correlation.h"
#include "measure/clip_measurement.h"

namespace guardband::measure {

/// `chroma_delay` (ns, positive when chroma lies to the right of luma) and `chroma_lower` (frame lines, positive when
/// it lies lower).
///
/// Method: `ColourEdges` along groups of rows of each frame, which ones changes from frame to frame; and down some
/// columns of each field now and then. Where the file's chroma samples stand between luma samples is taken into
/// account: on the first of the luma samples that they stand for, or midway where the file says so. Bias and scatter,
/// a second of pictures with coloured edges, moving or not, delays up to 500 ns either way: bias below 5 ns; where
/// colour has 1 MHz or more, RMS 6 ns down to 34 dB S/N and 8 at 28; where it has 0.4 to 0.6 MHz, RMS 12 ns, and now
/// and then no figure at 28 dB. What scatters is the scene, by luma beside its edges that goes with colour by chance,
/// far more than the noise: clips of one scene err alike, and clips of many scenes less. An uncertainty above 25 ns
/// gives no figure, as mostly where only few things have a colour of their own. Needs edges in both luma and colour;
/// delays up to 0.8 µs. Can't tell: a delay that a camera or a coder made from one that tape or machine made; down the
/// picture, anything where colour has fewer lines than luma.
class ChromaDelay final : public ClipMeasurement {
public:
    explicit ChromaDelay(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    void see_rows(const media::Frame& frame, int first);
    void read_row(const media::Frame& frame, int y, std::array<std::vector<float>, 3>& out);
    void see_column(const media::Frame& frame, int parity, int x);

    const ClipContext& context_;
    const char* unusable_;  ///< why not, or nullptr
    double ns_per_px_;
    std::optional<ColourEdges> along_;
    std::optional<EdgeCorrelation> down_;
    std::int64_t frames_ = 0;
    std::vector<std::array<std::vector<float>, 3>> rows_;  ///< luma, C_B, C_R of each
    std::vector<float> lower_;
};

}  // namespace guardband::measure
