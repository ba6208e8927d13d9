#pragma once

#include <map>
#include <string>
#include <vector>

#include "report/html_links.h"
#include "table/table.h"

namespace guardband::report {

/// Links to the pages that cite each source, by its id.
using CitedBy = std::map<std::string, std::vector<std::string>>;

/// The body of the first page: all formats, those of like tape together.
std::string formats_list_html(const table::Table& table, const PageLinks& links);

/// The body of the page of TV systems, and of the screens that cameras saw.
std::string systems_list_html(const table::Table& table, const PageLinks& links);

/// The body of the page of sources.
std::string sources_list_html(const table::Table& table, const CitedBy& cited_by);

/// How many figures stand on each standing, in the order of `table::Standing`.
std::vector<int> figures_by_standing(const table::TapeFormat& format);

}  // namespace guardband::report
