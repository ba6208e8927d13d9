#pragma once

#include <string>
#include <vector>

#include "table/table.h"

namespace guardband::report {

/// All formats for people, one line each.
std::string formats_list_text(const table::Table& table, const std::vector<const table::TapeFormat*>& formats);
std::string formats_list_csv(const std::vector<const table::TapeFormat*>& formats);

/// One format for people: its figures grouped, with the sources as numbered notes.
std::string format_page_text(const table::Table& table, const table::TapeFormat& format);

/// `{"formats": [...], "sources": [...], "table_version"}`: everything that the table has of them. What a mode does not
/// give itself holds as its system has it, and what that does not, as the drum has it.
std::string formats_json(const table::Table& table, const std::vector<const table::TapeFormat*>& formats);

}  // namespace guardband::report
