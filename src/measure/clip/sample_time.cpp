#include "measure/clip/sample_time.h"

#include "quantity/errors.h"

namespace guardband::measure {
namespace {

/// How long a line's samples last together, ns; all rasters of the table have one sampling rate.
double usual_line_ns(const table::Table& table) {
    for (const table::Raster& raster : table.rasters) {
        const table::Fact* rate = raster.facts.known("sampling_rate");
        const table::Fact* width = raster.facts.known("width");
        if (rate != nullptr && width != nullptr) return 1e9 / rate->in("Hz") * *width->value;
    }
    throw quantity::InputError("the table", "has no raster with a width and a sampling_rate",
                               "add one to tv-systems.toml");
}

}  // namespace

double nanoseconds_per_sample(const media::PictureFormat& picture, const table::Table& table) {
    if (const table::Raster* raster = table.find_raster(picture.width, picture.height))
        if (const auto* rate = raster->facts.known("sampling_rate")) return 1e9 / rate->in("Hz");
    // A picture of another width shows the same time with more or fewer samples.
    return usual_line_ns(table) / picture.width;
}

}  // namespace guardband::measure
