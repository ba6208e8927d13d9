#pragma once

#include <string>
#include <vector>

#include "table/table.h"

namespace guardband::report {

/// All formats for people, one line each.
std::string formats_list_text(const std::vector<const table::TapeFormat*>& formats);
std::string formats_list_csv(const std::vector<const table::TapeFormat*>& formats);

/// One format for people: its figures grouped, with the sources as numbered notes.
std::string format_page_text(const table::Table& table, const table::TapeFormat& format);

/// `{"formats": [...]}`: everything that the table has of them.
std::string formats_json(const std::vector<const table::TapeFormat*>& formats);

}  // namespace guardband::report
