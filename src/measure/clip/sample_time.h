#pragma once

#include "media/clip.h"
#include "table/table.h"

namespace guardband::measure {

/// How long a luma sample of a clip lasts, ns: by the sampling rate of the table's raster that has its size, or that it
/// is cropped from, or whose picture it shows with square samples; of other sizes as if the width held the time of a
/// line of the table's rasters, for a picture of another width shows the same time with more or fewer samples.
/// @throws InputError if the table has no raster
double nanoseconds_per_sample(const media::PictureFormat& picture, const table::Table& table);

}  // namespace guardband::measure
