#pragma once

#include "media/clip.h"
#include "table/table.h"

namespace guardband::measure {

/// Where black and white lie in a clip's luma codes if its levels are right, at the clip's own bit depth.
struct LumaRange {
    double black = 16, white = 235;
    double per_8_bit_code = 1;  ///< codes of the clip per 8-bit code: 4 at 10 bits
    double highest = 255;       ///< the highest code that the depth has

    double to_8_bit(double code) const { return code / per_8_bit_code; }
};

/// Range of a clip by its header: 0 to the highest code when the file says that it uses the full range, else black and
/// white of the raster of its size in the table, or of the table's first raster (all rasters of the studio standard
/// agree).
LumaRange luma_range(const media::PictureFormat& picture, const table::Table& table);

}  // namespace guardband::measure
