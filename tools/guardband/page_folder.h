#pragma once

#include <string>
#include <vector>

#include "report/html_pages.h"

namespace guardband::command_line {

/// Writes pages into a folder that is then there as a whole, or left as it was: they are written beside it first and
/// moved when they are complete. A folder that an earlier run wrote is replaced; a list of its files,
/// `guardband-pages.txt`, is how it is known.
/// @param input  how an error names the folder, e.g. `--html pages`
/// @throws InputError if the folder holds anything that no earlier run wrote, or can't be written
void write_page_folder(const std::string& folder, const std::vector<report::PageFile>& pages, const std::string& input);

}  // namespace guardband::command_line
