#include "measure/clip/sample_time.h"

#include <cassert>

namespace guardband::measure {
double nanoseconds_per_sample(const media::PictureFormat& picture, const table::Table& table) {
    if (const table::Raster* raster = table.find_raster(picture.width, picture.height))
        if (const auto* rate = raster->facts.known("sampling_rate")) return 1e9 / rate->in("Hz");
    // All rasters of the table have one rate: a picture of another width shows the same time with more or fewer
    // samples.
    assert(!table.rasters.empty());
    const table::Facts& usual = table.rasters.front().facts;
    return 1e9 / usual.find("sampling_rate")->in("Hz") * *usual.find("width")->value / picture.width;
}

}  // namespace guardband::measure
