#include "measure/clip/sample_time.h"

#include <optional>

#include "quantity/errors.h"

namespace guardband::measure {
namespace {

double nanoseconds_of(const table::Raster& raster) { return 1e9 / raster.facts.known("sampling_rate")->in("Hz"); }

/// The time from sample to sample of a picture of a raster's height; nothing if the table doesn't say.
std::optional<double> nanoseconds_by_height(const media::PictureFormat& picture, const table::Raster& raster) {
    if (const auto* cropped = raster.facts.known("cropped_width"); cropped && *cropped->value == picture.width)
        return nanoseconds_of(raster);
    const auto* aspect = raster.facts.known("pixel_aspect");
    if (aspect != nullptr && 3 * picture.width == 4 * picture.height)  // samples as wide as they are high
        return nanoseconds_of(raster) / *aspect->value;
    return std::nullopt;
}

}  // namespace

double nanoseconds_per_sample(const media::PictureFormat& picture, const table::Table& table) {
    if (const table::Raster* raster = table.find_raster(picture.width, picture.height)) return nanoseconds_of(*raster);
    for (const table::Raster& raster : table.rasters)
        if (raster.height() == picture.height)
            if (const auto found = nanoseconds_by_height(picture, raster)) return *found;
    if (table.rasters.empty()) throw quantity::InputError("the table", "has no raster", "add one to tv-systems.toml");
    const table::Raster& usual = table.rasters.front();  // all have one sampling rate
    return nanoseconds_of(usual) * usual.width() / picture.width;
}

}  // namespace guardband::measure
