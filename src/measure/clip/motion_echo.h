#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <span>

#include "rows/spectra.h"

namespace guardband::measure {

/// How strongly what moves shows again where it was some time before.
struct EchoReading {
    double strength = 0;  ///< mean over blocks; see `MotionEcho`
    double error = 0;     ///< one standard uncertainty of it
    double agreeing = 0;  ///< share of the blocks whose own is above 0
};

/// Looks for pictures that hold two moments: what moves by v samples a frame then shows twice, v apart where frames
/// hold part of the one before, v / 2 where two fields that follow one another were mixed.
///
/// Method: a picture with a copy of it d samples aside and a times as strong has 1 + 2 a cos(2π f d) + a² times the
/// picture's power spectrum; the logarithm of that holds 2 a cos(2π f d) − a² cos(4π f d) + …. The logarithm of each
/// moving block's power along the lines, up to where it sinks into noise, is fitted by a smooth course and one cosine,
/// for d = v / 2 and d = v. A mean of many blocks tells, since detail that comes round with just the period by which
/// the picture moves is rare. An exposure that lasts smears instead, which gives the cosine of its own length a
/// negative sign: so a shutter that is open for half a frame is no echo.
///
/// Strengths, of FFmpeg's filters on photographs panned by 6 to 18 samples a frame: of pictures as they were ± 0.1 and
/// once 0.34 (d = v / 2), ± 0.04 (d = v); of two fields mixed 0.6 to 1.2 (v / 2) and −0.2 to −0.8 (v), of the mean of
/// two frames 0.3 (v). Less where lines of the two fields have little in common. Can't tell: motion below some five
/// samples a frame (ten for fields); pictures whose detail sinks into noise below a third of the band; fields that were
/// exposed as long as a field lasts, whose mixture is the same as one exposure as long as the frame.
class MotionEcho {
public:
    static constexpr std::size_t bins = rows::spectrum_bins;
    enum class Lag { HalfFrame, Frame };
    /// What the pictures hold. Smeared: all that a frame moves by, so two fields or an exposure as long as the frame.
    enum class Mixed { Unknown, Nothing, Smeared, TwoFields, Frames };

    /// One block. @param power  by frequency along the line  @param noise  that part of it that is noise
    void add(std::span<const float, bins> power, std::span<const float, bins> noise, float moved_samples);

    /// Nothing while too few blocks moved fast enough.
    std::optional<EchoReading> reading(Lag lag) const;
    Mixed mixed() const;

private:
    struct Sums {
        double sum = 0, squares = 0, agreeing = 0, count = 0;
    };
    std::array<Sums, 2> sums_{};  ///< by lag
};

}  // namespace guardband::measure
