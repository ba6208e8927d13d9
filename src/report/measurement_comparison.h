#pragma once

#include <string>
#include <vector>

#include "report/measurement_report.h"

namespace guardband::report {

/// Two measurements of the same kind side by side, before and after a repair: each figure with both values, and whether
/// they differ by more than twice the standard uncertainty of the difference. Components are paired by part and rate.
/// For a terminal of 80 columns.
std::string comparison_text(const Measurement& before, const Measurement& after,
                            const std::vector<FigureTitle>& titles);

/// The JSON of `after`, with `input`, `figures` and `events` of `before` under the key `before`.
std::string comparison_json(const Measurement& before, const Measurement& after);

}  // namespace guardband::report
