#pragma once

#include <vector>

#include "table/table.h"

namespace guardband::measure {

/// Rates of mains that the table knows of: half of those at which its lamps flicker.
std::vector<double> mains_rates_hz(const table::Table& table);

}  // namespace guardband::measure
