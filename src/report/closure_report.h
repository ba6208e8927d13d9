#pragma once

#include <string>
#include <vector>

#include "calc/closure.h"
#include "report/json.h"
#include "table/table.h"

namespace guardband::report {

/// The closures for people: how many of each kind end how, then those that differ, with both values and the reason;
/// with `all`, every one of them by mode and cassette.
std::string closures_text(const std::vector<calc::Closure>& closures, const table::Edition& edition, bool all);

/// One row per closure; the columns are the keys of the JSON.
std::string closures_csv(const std::vector<calc::Closure>& closures);

/// One closure with the keys of `closures_csv`.
Json closure_json(const calc::Closure& closure);

/// `{"closures": [...]}` with the version of the table.
std::string closures_json(const std::vector<calc::Closure>& closures, const table::Edition& edition);

}  // namespace guardband::report
