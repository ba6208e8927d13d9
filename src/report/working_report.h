#pragma once

#include <string>

#include "calc/working.h"
#include "report/json.h"
#include "table/table.h"

namespace guardband::report {

/// How an answer was got, for a terminal of 80 columns: each step with its formula, the numbers put in and the result,
/// then where each number came from, sources numbered. Begins with a blank line and a heading; empty if there are no
/// steps.
std::string working_text(const calc::Working& working, const table::Table& table);

/// The same as a list of `{"meaning", "formula", "numbers", "result", "source", "givens": [{"symbol", "meaning",
/// "value", "origin" or "key", "source", "standing"}]}`.
Json working_json(const calc::Working& working);

/// Cautions of `cautions.toml` by their ids, title before text, for a terminal of 80 columns. Begins with a blank line.
/// @throws DomainError for an id that the table does not have
std::string cautions_text(const table::Table& table, const std::vector<std::string>& ids);

}  // namespace guardband::report
