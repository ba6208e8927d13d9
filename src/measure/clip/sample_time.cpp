#include "measure/clip/sample_time.h"

namespace guardband::measure {
namespace {

constexpr double standard_sampling_hz = 13.5e6;
constexpr int standard_width = 720;

}  // namespace

double nanoseconds_per_sample(const media::PictureFormat& picture, const table::Table& table) {
    if (const table::Raster* raster = table.find_raster(picture.width, picture.height))
        if (const auto* rate = raster->facts.known("sampling_rate")) return 1e9 / rate->in("Hz");
    return 1e9 / standard_sampling_hz * standard_width / picture.width;
}

}  // namespace guardband::measure
