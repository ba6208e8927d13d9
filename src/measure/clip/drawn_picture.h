#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "measure/clip_measurement.h"
#include "measure/frame_clock.h"

namespace guardband::measure {

/// Events `drawn picture`: stretches of flat black, grey or coloured frames that a player or corrector puts in the
/// place of a picture it has lost. It gives no figure.
///
/// Method: nine in ten of the samples lie within 3 codes of 8 bits, and stay where they are. Grey and coloured frames
/// of at least two on end count by themselves. Black counts where the picture before comes back after it, within 5 s: a
/// programme that cuts or fades to black goes on with another picture or gently; and where that picture is not black
/// itself in most places, as titles are. White never counts. Nor does what something moves across all the time, as
/// titles that roll or crawl over a plain ground; a counter that changes now and then stands in a player's picture.
///
/// Can't tell: a flat coloured card that the programme shows and on which nothing moves; black that ends in another
/// picture.
class DrawnPicture final : public ClipMeasurement {
public:
    explicit DrawnPicture(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features) override;
    void finish(quantity::Figures& figures, std::vector<quantity::Event>& events) override;

private:
    enum class Colour { Black, Grey, Blue, Other };
    struct Flat {
        Colour colour;
        double level, cb, cr;  ///< 8-bit codes
    };
    struct Stretch {
        std::int64_t frame = 0, frames = 0, restless = 0;  ///< of them: something moves
        double time_s = 0, last_s = 0;
        Flat flat{};
        bool steady = true;    ///< level and colour stay
        bool returns = false;  ///< the picture before it comes back
    };
    /// A picture in few cells of brightness.
    using Sketch = std::vector<float>;

    std::optional<Flat> flat_of(const media::Frame& frame, const FrameFeatures& features) const;
    bool is_restless(const FrameFeatures& features) const;
    void end_stretch(const Sketch* after);

    FrameClock clock_;
    double code_, black_, white_;
    Sketch before_, now_;  ///< of the last frame that had a picture, and of this
    double usual_contrast_ = 0;
    bool before_is_dark_ = false;  ///< most of it is black
    std::optional<Stretch> stretch_;
    std::vector<Stretch> stretches_;
};

}  // namespace guardband::measure
