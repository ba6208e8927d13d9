#pragma once

#include <string>

#include "report/figure_page.h"

namespace guardband::report {

/// A page for a terminal of 100 columns: groups under headings, columns that don't fit side by side below each other,
/// then what is not known, the remarks by letter and the sources by number.
std::string figure_page_text(const FigurePage& page, const table::Edition& edition);

/// What stands behind the figures of a text.
struct Notes {
    std::vector<std::string> remarks;
    std::vector<PageNotes::CitedSource> sources;
    std::vector<PageNotes::LetterMeaning> standings;
};

/// The remarks by letter, then the sources by number and the standings by letter, each under its heading; empty if
/// there are none.
std::string notes_text(const Notes& notes, std::size_t width);

/// The value of a cell with its marks: `33.35 ± 0.5 % [3](a)`, one line for each entry; a dash if it has none.
std::string cell_text(const Cell& cell);

}  // namespace guardband::report
