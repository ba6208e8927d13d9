#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "measure/clip/luma_range.h"
#include "measure/clip/silent_blocks.h"
#include "measure/clip_measurement.h"

namespace guardband::measure {

/// Sums over places that are flat but for noise, of levels next to each other.
struct FlatPlaces {
    std::vector<float> variances;   ///< of the noise, squared codes of the clip; a bounded number of them
    double squares = 0, cubes = 0;  ///< of what samples differ by from the mean of the two beside them
    std::int64_t samples = 0;
};

/// `black_slope`, `white_slope`: by how much a small change of light still changes the picture at its darkest and
/// brightest, over what it does in the middle of the range; 1 is even, less is crushed. Part of `PictureNoise`, which
/// knows the noise of the middle.
///
/// Method: noise of the tape is about as strong at every level until something bends the levels; then it is smaller
/// where the slope is. At the ends, flat places are blocks of 16 × 8 that change as much from line to line as from
/// frame to frame; texture that does so by chance makes the slope read high. A slope that changes within the noise
/// makes it lean, away from black, away from white (the sign of its third moment); only then does the note say that it
/// leans, and a limit applies, since film and cameras have less noise at some levels by themselves. Nothing about
/// pictures that are dark: how often levels occur doesn't count. Within 0.1 where a hundred flat places lie at the end,
/// from 30 to 44 dB. Unknown where there is none near the end of the range, where most places there hold no noise at
/// all (cut off, or put in later), and for lossy codecs, which choose what noise they keep.
class Crushing {
public:
    explicit Crushing(const ClipContext& context);
    void see(const media::Frame& frame, const FrameFeatures& features);

    /// Is this the middle of the range, where the noise should be measured that the ends are compared with?
    /// @param level  8-bit code
    bool is_middle(double level) const;
    /// @param middle_variance  of that noise, squared 8-bit codes, rounding included; nothing if not known
    void add_figures(std::optional<double> middle_variance, quantity::Figures& figures) const;

private:
    static constexpr std::size_t steps = 32;  ///< of 8 8-bit codes

    void see_block(const media::Plane& plane, const FrameFeatures& features, std::size_t parity, int bx, int by);
    void add_moments(const media::Plane& plane, int x, int y, FlatPlaces& places) const;
    double share_of_range(double level) const;
    std::int64_t silent_in_step(std::size_t step) const;
    quantity::Figure figure(bool bright, double middle) const;

    LumaRange range_;
    int bit_depth_;
    bool is_lossy_;
    std::array<FlatPlaces, steps> levels_;
    SilentBlocks silent_;
    std::int64_t frames_ = 0;
};

}  // namespace guardband::measure
