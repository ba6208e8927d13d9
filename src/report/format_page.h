#pragma once

#include "report/figure_page.h"
#include "table/schema.h"
#include "table/table.h"

namespace guardband::report {

/// One format as a page: figures in groups, modes side by side where they differ, then the lengths that its cassettes
/// come in.
FigurePage format_page(const table::Table& table, const table::TapeFormat& format);

/// The fact of a key as it stands for a mode, known or not: the mode's own, its system's, the drum's, the tape's or the
/// format's; nullptr if the table does not mention it.
const table::Fact* fact_for_mode(const table::TapeFormat& format, const table::Mode& mode, const table::KeyRule& rule);

/// Names with commas between them.
std::string joined(const std::vector<std::string>& parts, std::string_view by = ", ");

}  // namespace guardband::report
