#pragma once

#include <string>
#include <vector>

#include "report/system_page.h"
#include "table/table.h"

namespace guardband::report {

/// All systems for people: scanning standards, colour systems, transmission systems, then the screens that cameras saw.
std::string systems_list_text(const table::Table& table);
/// The same as one list of comma-separated values.
std::string systems_list_csv(const table::Table& table);

/// One system for people, with the sources as numbered notes and what belongs to it.
std::string system_page_text(const table::Table& table, const System& system);

/// `{"systems": [...], "sources": [...], "table_version"}`: everything that the table has of them, each with its
/// `kind`; of more than one also the `screens` and the `limits` that figures are judged against.
std::string systems_json(const table::Table& table, const std::vector<System>& systems);

}  // namespace guardband::report
