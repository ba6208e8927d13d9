#pragma once

#include <span>
#include <string_view>
#include <vector>

#include "table/schema.h"

namespace guardband::report {

/// Figures that belong together at the bench, whatever section of the file they stand in.
struct FigureGroup {
    std::string_view title;
    std::vector<const table::KeyRule*> rules;  ///< in the order in which they are shown
};

/// The figures of a tape format in groups, from the cassette in the hand to the picture on the screen. Every key of the
/// schema's format sections is in one of them: what no group claims stands in a last group, so that a new key is shown
/// before anyone has thought where it belongs. Shells and grades are lists of their own and stand in none.
const std::vector<FigureGroup>& format_groups();

/// The same of scanning standards, colour systems and transmission systems.
const std::vector<FigureGroup>& system_groups();

}  // namespace guardband::report
