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
/// Method: along rows by `ColourEdges`, in groups of rows of each frame, which ones changes from frame to frame; down
/// some columns of each field now and then by `EdgeCorrelation`, since there colour is as sharp as luma. Where the
/// file's chroma samples stand between luma samples is taken into account: along rows on the first of the luma samples
/// that they stand for, or midway where the file says so; down the picture midway. Bias and scatter: pictures
/// with coloured edges, moving or not, colour of 0.4 to 1.3 MHz, 32 to 42 dB S/N, delays up to 500 ns either way, also
/// in DV: bias of 146 clips -0.1 ns (standard error 0.3), and -0.15 % of the delay (0.1). Clips of 4 s and longer: RMS
/// 5 ns where colour has less than 0.9 MHz, 3 ns where it has more; one in twenty errs by more than 10 ns, none
/// by 20. Clips of 0.8 s at 28 dB: RMS 7 ns. The uncertainty says so: fewer than one in 20 lie beyond twice of it. What
/// scatters is the scene, by edges of luma beside those of colour, and by edges of colour so near to each other that
/// its narrow band runs them together: a clip's mirror image errs as much the other way, to 1 ns. Luma that had the
/// edges of colour and nothing else would leave 3 to 4 ns. An uncertainty above 25 ns gives no figure. Where left and
/// right of the picture surely disagree by more than twice that, neither. Down the picture: RMS 0.05 lines, 0.2 where
/// colour has half of luma's lines, with a bias of -0.1. Needs edges in both luma and colour; delays up to 0.8 µs.
/// Can't tell: a delay that a camera or a coder made from one that tape or machine made, unless it differs from left to
/// right.
class ChromaDelay final : public ClipMeasurement {
public:
    explicit ChromaDelay(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    void see_rows(const media::Frame& frame, int first);
    void read_row(const media::Frame& frame, int y, std::array<std::vector<float>, 3>& out);
    void see_column(const media::Frame& frame, int parity, int x);

    quantity::Figure delay() const;

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
