#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calc/working.h"
#include "quantity/quantity.h"
#include "table/table.h"

namespace guardband::calc {

/// A value and the range that its tolerances leave, all in one unit.
struct Bounded {
    double value = 0, low = 0, high = 0;
};

/// Time that a length of tape runs, in seconds: length / speed; the range takes both tolerances at their worst.
/// @param length_m  0 or more  @param speed_mm_s  above 0  @throws DomainError otherwise
Bounded running_time_s(const Bounded& length_m, const Bounded& speed_mm_s);

/// Which running times are asked for; what is absent is not filtered.
struct RunningTimeQuery {
    const table::TapeFormat* format = nullptr;
    std::optional<std::string> grade;          ///< id or alias
    std::optional<quantity::Quantity> length;  ///< instead of a grade; its uncertainty counts as the tolerance
    const table::Scanning* system = nullptr;   ///< of the machine, whatever the cassette's label counts
    std::optional<std::string> mode;           ///< id or alias
};

/// One mode with one length of tape.
struct RunningTime {
    const table::TapeFormat* format = nullptr;
    const table::Mode* mode = nullptr;
    const table::Grade* grade = nullptr;  ///< nullptr when a bare length was given
    Bounded length_m, speed_mm_s, seconds;
    std::optional<double> published_seconds;  ///< nominal time that a source prints for this grade in this mode
    /// The cassette's label counts minutes of another scanning standard than the one it is run in here.
    bool crosses_systems() const;
};

/// How one running time was worked out, with the figures of the table behind it.
Working running_time_working(const RunningTime& row);

/// Every combination that the query leaves, in the table's order. Grades whose length nobody knows and modes whose
/// speed nobody knows are left out.
/// @throws InputError if the query's grade or mode is not there at all, with the nearest one that is
std::vector<RunningTime> running_times(const table::Table& table, const RunningTimeQuery& query);

}  // namespace guardband::calc
