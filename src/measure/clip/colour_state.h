#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "measure/clip_measurement.h"
#include "measure/frame_clock.h"
#include "rows/kernels.h"

namespace guardband::measure {

/// Events `colour lost`: colour is gone from a picture that had some while the picture itself goes on, as where a
/// colour killer cuts in. Events `colour alternates`: the colours change and change back from frame to frame, from
/// field to field or from line to line while the picture goes on, as where the order of chroma phases is wrong. No
/// figure.
///
/// Method: means of colour difference over segments of a few rows. A loss must come within two frames, in the middle of
/// a scene (the brightness goes on): what is cut to is another picture. It ends when colour comes back or the scene
/// does. Noise of any strength may go on where colour was. Colours alternate if they are unlike those before them, but
/// like those before these, six times on end.
///
/// Can't tell: a loss of colour at a cut; an alternation that lasts from the first frame to the last of a picture that
/// moves fast. Needs a colour of 5 codes of 8 bits RMS over the picture.
class ColourState final : public ClipMeasurement {
public:
    explicit ColourState(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    /// Colour of a frame: means less the zero of colour difference, 8-bit codes; C_B and C_R.
    using Colours = std::array<std::vector<float>, 2>;
    enum class From { Frame, Field, Line };
    struct Stretch {
        std::int64_t frame = 0, frames = 0;
        double time_s = 0;
    };
    struct Alternation {
        Stretch stretch;
        std::vector<Stretch> all;
    };

    template <typename Sample>
    void add_row(const media::Plane& plane, int y, std::vector<float>& means);
    void gather(const media::Frame& frame);
    double strength() const;
    void watch_loss(std::int64_t frame, double time_s, bool goes_on);
    void watch(From from, bool alternates, std::int64_t frame, double time_s);
    bool alternates_by_frame() const;
    void end(Alternation& alternation);

    FrameClock clock_;
    double code_;
    std::int64_t frames_ = 0;
    std::vector<std::uint32_t> sums_;
    Colours now_, before_, before_that_;  ///< of the top field's rows
    Colours other_field_, next_line_;
    std::vector<float> sketch_, sketch_before_;
    double strength_before_ = 0, usual_ = 0;  ///< of colour, RMS
    std::optional<Stretch> lost_;
    std::vector<Stretch> losses_;
    std::array<Alternation, 3> alternations_;
};

}  // namespace guardband::measure
