#pragma once

#include <string>
#include <vector>

#include "calc/running_time_comparison.h"

namespace guardband::report {

/// One bar of a comparison of running times.
struct ComparisonBar {
    std::string cassette;  ///< `standard`, `longest`, `standard and longest`
    const calc::CassetteSpan* span;
};

/// The bars of a format: one if its standard cassette is also its longest, or if the table marks no standard one.
std::vector<ComparisonBar> bars_of(const calc::ComparedFormat& format);

/// The longest time of all bars, s; 0 if there are none.
double longest_seconds(const std::vector<calc::ComparedFormat>& formats);

/// Whole hours between two marks of an axis of so many hours: 1, 2, 5, 10 … so that there are six marks at most.
double hours_between_marks(double hours);

/// `3:04 SP`, `3:04 SP to 9:12 EP`.
std::string span_text(const calc::CassetteSpan& span);

}  // namespace guardband::report
