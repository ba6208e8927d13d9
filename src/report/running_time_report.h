#pragma once

#include <string>
#include <vector>

#include "calc/running_time.h"

namespace guardband::report {

/// What a list of running times was asked for and what it takes for granted, for people to read first.
struct RunningTimePreface {
    std::vector<std::string> filters;  ///< `format VHS`, `system 525/60 (given as NTSC)`; empty: everything
};

/// The running times for people: one list when they are few, else a table per format with a column for each mode.
/// @param explain  appends how each was got
std::string running_times_text(const std::vector<calc::RunningTime>& rows, const RunningTimePreface& preface,
                               const table::Table& table, bool explain = false);

/// One row per combination; the columns are the contract's keys.
std::string running_times_csv(const std::vector<calc::RunningTime>& rows);

/// `{"rows": [...]}` as the contract has it, and `table_version`; each row with its `working` if explained.
std::string running_times_json(const std::vector<calc::RunningTime>& rows, const table::Edition& edition,
                               bool explain = false);

}  // namespace guardband::report
