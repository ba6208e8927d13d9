#pragma once

#include <array>
#include <string>
#include <vector>

#include "media/clip.h"
#include "table/table.h"

namespace guardband::measure {

/// Where the picture begins at one side of the raster.
struct ActiveEdge {
    double blank = 0;        ///< samples or frame lines without picture before it
    double uncertainty = 0;  ///< one standard uncertainty
    bool hard = false;       ///< from one sample to the next, after black without noise: no edge that was ever analogue
};

/// What was done to the raster, as its blank edges tell: black put around the picture, bars beside it, lines moved.
/// @param edges         left, right, top, bottom
/// @param is_half_line  whether the uppermost line of the picture is half a line, its right half
/// @returns a sentence each; none for a raster as it should be
std::vector<std::string> raster_notes(const std::array<ActiveEdge, 4>& edges, bool is_half_line,
                                      const media::PictureFormat& picture, const table::Table& table);

}  // namespace guardband::measure
