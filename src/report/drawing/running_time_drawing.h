#pragma once

#include <string>
#include <vector>

#include "calc/running_time_comparison.h"

namespace guardband::report::drawing {

/// The comparison as bars on one sheet, as high as it has bars: hours across, a format and system down, the common
/// cassette above the longest.
std::string running_time_drawing(const std::vector<calc::ComparedFormat>& formats, const table::Edition& edition);

}  // namespace guardband::report::drawing
