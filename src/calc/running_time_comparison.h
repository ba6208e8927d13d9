#pragma once

#include <optional>
#include <vector>

#include "calc/running_time.h"

namespace guardband::calc {

/// How long one cassette runs, from a format's fastest mode to its slowest.
struct CassetteSpan {
    RunningTime shortest, longest;  ///< the same where the format has one speed only
    bool has_one_speed() const { return shortest.speed_mm_s.value == longest.speed_mm_s.value; }
};

/// A format on one scanning standard by its cassettes.
struct ComparedFormat {
    const table::TapeFormat* format = nullptr;
    const table::Scanning* system = nullptr;
    std::optional<CassetteSpan>
        standard;          ///< of the grade that the table marks as the common one; none if it marks none
    CassetteSpan longest;  ///< of the grade with the most tape
    bool standard_is_longest() const { return standard && standard->shortest.grade == longest.shortest.grade; }
};

/// Running times put side by side: one entry for each format and scanning standard among the rows, in their order.
/// Where labels of the format count that standard's minutes, cassettes whose label counts another's are left out.
/// @param rows  as `running_times` gives them; those of bare lengths are left out
std::vector<ComparedFormat> compared_running_times(const table::Table& table, const std::vector<RunningTime>& rows);

}  // namespace guardband::calc
