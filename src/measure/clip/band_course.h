#pragma once

#include <optional>
#include <span>
#include <vector>

namespace guardband::measure {

/// The bands of noise of one frame: their centres in the field of the upper rows, heights from the top.
struct BandsOfFrame {
    double time_s = 0;
    std::vector<float> centres;
};

/// How bands of noise lie and move, heights of the picture.
struct BandCourse {
    int bands = 0;                   ///< of a field
    std::optional<double> spacing;   ///< from one to the next; nothing for a single one
    bool even = true;                ///< all are about as far apart
    double start = 0;                ///< centre of the first at the first moment
    double drift_per_s = 0;          ///< downwards; 0 if they stand
    double swing = 0, swing_hz = 0;  ///< amplitude and rate of a swing to and fro; 0 if there is none
};

/// Method: the spacing is the median distance of neighbours in all frames; with it all bands of a frame have one phase,
/// which is followed over the stretch, beyond either end of the picture; the drift is the slope of its place over time,
/// the swing the strongest sine in what is left, if it is no chance (0.1 %).
///
/// Scatter: places come in rows of eight lines of the field, so the drift of a stretch of T seconds is right to about
/// 0.02 heights / T, and swings of less than 0.015 heights are not told. Bands that move by half of their spacing from
/// frame to frame are taken for the next ones. @param frames  in the order of time
BandCourse course_of(std::span<const BandsOfFrame> frames);

}  // namespace guardband::measure
