#pragma once

#include "media/clip.h"
#include "table/table.h"

namespace guardband::measure {

/// How long a luma sample of a clip lasts, ns: by the sampling rate of the raster of its size in the table, or as if
/// the width held the time of a line of the table's rasters. @throws InputError if the table has none
double nanoseconds_per_sample(const media::PictureFormat& picture, const table::Table& table);

}  // namespace guardband::measure
