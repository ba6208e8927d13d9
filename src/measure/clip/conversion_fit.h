#pragma once

#include <optional>
#include <vector>

namespace guardband::measure {

/// What a stretch of a clip shows, field by field (or frame by frame) in the order of time. Logarithms, so that what
/// the content does to all of them alike is a slow trend; of the parts of the picture that move.
struct MotionSeries {
    std::vector<double> change;      ///< of the picture from the same field one frame before
    std::vector<double> comb;        ///< of each field with the one before it; empty for frames
    std::vector<double> across;      ///< detail along the lines
    std::vector<double> along;       ///< detail from line to line
    std::vector<double> brightness;  ///< of the whole picture
};

/// How well a standards conversion explains a stretch.
struct ConversionFit {
    enum class Method { Steps, Blend };

    Method method = Method::Blend;
    double significance = 0;  ///< of the pattern over what is left, in standard deviations
    double effect = 0;        ///< size of the pattern: logarithm of most over least
};

/// Looks for the pattern that a conversion of standards leaves: of every five or six pictures some that stand longer,
/// or less long, than the others (Steps), or that mix two others by their distance in time (Blend).
///
/// Method: picture n shows the source's picture number n r + d, r being the ratio of the rates. Repeats make it whole,
/// so that the change from picture to picture goes in steps; mixing leaves the fraction f of the way as a loss of
/// detail by f (1 − f). Both are correlated with the series, for all d; slow trends, what differs between the two
/// parities and outliers are taken out first, of series and pattern alike. Flicker of a filmed screen, whose rates have
/// the same ratio, shows in the brightness; a block codec's groups of pictures treat the two fields of a frame alike.
///
/// @param ratio   pictures of the source per picture of the clip, 6/5 or 5/6 or near them
/// @param fields  the series' pictures are fields, of parities by turns
/// @returns nothing if no pattern stands out
std::optional<ConversionFit> fit_conversion(const MotionSeries& series, double ratio, bool fields);

}  // namespace guardband::measure
