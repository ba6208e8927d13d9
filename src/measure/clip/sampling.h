#pragma once

#include "media/clip.h"
#include "table/table.h"

namespace guardband::measure {

/// Time from one luma sample to the next: by the raster of this size in the table, else as if the picture's width held
/// the 720 samples of a line at 13.5 MHz (ITU-R BT.601).
double nanoseconds_per_sample(const media::PictureFormat& picture, const table::Table& table);

}  // namespace guardband::measure
