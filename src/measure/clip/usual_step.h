#pragma once

#include <cstddef>
#include <limits>

#include "measure/clip/displacement_store.h"

namespace guardband::measure {

/// The step of a line from the line above that most fields have.
struct UsualStep {
    double px = std::numeric_limits<double>::quiet_NaN();  ///< not a number where too few fields show any
    double share = 0;                                      ///< of the clip's fields, those that have it
};

/// That of a line of the fields of a parity, by the line's picture alone, without edges.
///
/// Method: the mean of those fields that lie where they lie closest together. Rows that don't match, or match by chance
/// where a step is larger than was looked for, lie far and wide; they don't count, even if they are most.
///
/// @param part  of the line: all of it, or its left or right part
UsualStep usual_step(const DisplacementStore& store, std::size_t parity, std::size_t line, float SeenStep::*part);

}  // namespace guardband::measure
