#pragma once

#include <cstdint>
#include <vector>

#include "calc/filmed_screen.h"

namespace guardband::calc {

/// An 8-bit grey picture, rows from the top.
struct GreyPicture {
    int width = 0, height = 0;
    std::vector<std::uint8_t> samples;

    std::uint8_t at(int x, int y) const { return samples[static_cast<std::size_t>(y * width + x)]; }
};

/// Pictures of a camera side by side, time to the right.
struct FilmStrip {
    GreyPicture picture;
    int pictures = 0;         ///< that are shown
    int step = 1;             ///< one of so many of the camera's pictures is shown
    int picture_width = 0;    ///< samples that each takes, without the gap after it
    double beat_periods = 0;  ///< that the strip covers; 0 if the flicker stands still
};

/// Light at a height (0 top, 1 bottom) of the camera's picture number `index`, in units of its mean; a lamp's is that
/// of a ripple of full depth.
double light_in_picture(const Filming& filming, std::int64_t index, double height);

/// What the camera shows of an evenly grey screen over one beat period, at least eight pictures: the mean is mid-grey,
/// or darker where the brightest would clip; light becomes signal by the power of 0.45 (common practice, no source).
/// Where a beat has more pictures than there is room for, every n-th is shown.
FilmStrip film_strip(const Filming& filming);

}  // namespace guardband::calc
