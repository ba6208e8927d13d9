#pragma once

#include <string>

#include "quantity/figure.h"
#include "table/table.h"

namespace guardband::judge {

/// What is known of the recording, for the choice of limits. Empty: not known; then only limits that hold everywhere
/// apply.
struct Recording {
    std::string scanning;   ///< id of the scanning standard: stated, or measured
    std::string format;     ///< id of the tape format: stated
    std::string setting{};  ///< what it is for, one of `table::limit_settings()`: stated
};

/// Holds each figure against the limit of `limits.toml` that fits the recording best (its setting before its
/// format before its system before any) and notes limit, its source and the verdict on the figure. A number is
/// `outside` only if it lies beyond the limit by more than its expanded uncertainty (k = 2): guarded rejection, JCGM
/// 106:2012; what can't be told from within is within.
void judge(quantity::Figures& figures, const table::Table& table, const Recording& recording);

/// How many figures are outside their limits.
int count_outside(const quantity::Figures& figures);

}  // namespace guardband::judge
