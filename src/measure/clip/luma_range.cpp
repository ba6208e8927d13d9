#include "measure/clip/luma_range.h"

namespace guardband::measure {

LumaRange luma_range(const media::PictureFormat& picture, const table::Table& table) {
    LumaRange range;
    range.per_8_bit_code = static_cast<double>(1 << (picture.bit_depth - 8));
    range.highest = static_cast<double>((1 << picture.bit_depth) - 1);
    const table::Raster* raster = table.find_raster(picture.width, picture.height);
    if (raster == nullptr && !table.rasters.empty()) raster = &table.rasters.front();
    if (picture.full_range || raster == nullptr) {
        range.black = 0;
        range.white = range.highest;
        return range;
    }
    range.black = raster->black_code() * range.per_8_bit_code;
    range.white = raster->white_code() * range.per_8_bit_code;
    return range;
}

}  // namespace guardband::measure
