#pragma once

#include "measure/clip_measurement.h"
#include "table/table.h"

namespace guardband::measure {

/// How a clip's frames relate to the fields of a scanning standard.
struct ScanningMatch {
    const table::Scanning* scanning = nullptr;  ///< null if the clip fits none
    bool frame_per_field = false;               ///< each field was made a frame of its own
};

/// Whether captures in this raster have so many lines, with vertical blanking above the picture or without.
bool has_height(const table::Raster& raster, int height);

/// Lines of vertical blanking that a capture of this height holds above its picture, by the table's rasters; often 0.
int blanking_above(const table::Table& table, int height);

/// Is there a raster of this height in the table, with vertical blanking or without?
bool is_television_raster(const table::Table& table, int height);

/// The scanning standard of the table whose raster has this height and whose frame or field rate is the clip's. A
/// capture's clock is within some ten parts in a million of its standard's rate, and the nearest other rates in use (24
/// against 25 Hz) are 4 % away; 1 % lies between.
ScanningMatch match_scanning(const table::Table& table, int height, double frame_rate_hz);

}  // namespace guardband::measure
