#pragma once

#include <string>
#include <vector>

#include "table/figure_search.h"

namespace guardband::report {

/// What a search found, one line each: where, and the figures that met the conditions.
std::string search_text(const table::Table& table, const std::vector<table::Condition>& conditions,
                        const std::vector<table::Finding>& findings);

std::string search_csv(const std::vector<table::Condition>& conditions, const std::vector<table::Finding>& findings);

/// `{"found": [{"format", "system", "mode", "shell", "grade", "addresses": [...], "figures": {KEY: fact}}], "sources":
/// [...], "table_version"}`.
std::string search_json(const table::Table& table, const std::vector<table::Condition>& conditions,
                        const std::vector<table::Finding>& findings);

/// The keys that can be searched for, with unit and meaning.
std::string keys_text();

/// `{"keys": [{"key", "unit", "kind", "section", "title", "low", "high"}]}`.
std::string keys_json();

}  // namespace guardband::report
