#pragma once

#include <string>
#include <vector>

#include "calc/running_time_comparison.h"

namespace guardband::report {

/// Bars of plain characters on a terminal of 80 columns: each format and system with its standard and its longest
/// cassette, from the fastest mode to the slowest.
std::string running_time_comparison_text(const std::vector<calc::ComparedFormat>& formats,
                                         const table::Edition& edition);

/// `{"rows": [{"format", "system", "cassette", "grade", "length_m", "fastest", "slowest"}]}`; `cassette` is `standard`,
/// `longest` or `standard and longest`; `fastest` and `slowest` have `address`, `seconds` and their range.
std::string running_time_comparison_json(const std::vector<calc::ComparedFormat>& formats,
                                         const table::Edition& edition);

}  // namespace guardband::report
