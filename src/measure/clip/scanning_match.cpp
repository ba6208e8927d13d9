#include "measure/clip/scanning_match.h"

#include <algorithm>
#include <cmath>

namespace guardband::measure {
namespace {

constexpr double rate_tolerance = 0.01;

bool close(double hz, const quantity::Rational& nominal) { return std::abs(hz / nominal.value() - 1) < rate_tolerance; }

/// Whether captures of the raster with some of the vertical blanking above the picture are so high.
bool has_with_blanking(const table::Raster& raster, int height) {
    const table::Fact* fact = raster.facts.known("height_with_blanking");
    return fact != nullptr && fact->value && *fact->value == height;
}

}  // namespace

bool has_height(const table::Raster& raster, int height) {
    return raster.height() == height || has_with_blanking(raster, height);
}

int blanking_above(const table::Table& table, int height) {
    for (const table::Raster& raster : table.rasters)
        if (raster.height() == height) return 0;
    for (const table::Raster& raster : table.rasters)
        if (has_with_blanking(raster, height)) return height - raster.height();
    return 0;
}

bool is_television_raster(const table::Table& table, int height) {
    return std::ranges::any_of(table.rasters, [&](const table::Raster& raster) { return has_height(raster, height); });
}

ScanningMatch match_scanning(const table::Table& table, int height, double frame_rate_hz) {
    for (const table::Raster& raster : table.rasters) {
        if (!has_height(raster, height)) continue;
        const table::Scanning* scanning = table.find_scanning(raster.scanning);
        if (scanning == nullptr) continue;
        if (close(frame_rate_hz, scanning->frame_rate())) return {scanning, false};
        if (close(frame_rate_hz, scanning->field_rate())) return {scanning, true};
    }
    return {};
}

}  // namespace guardband::measure
