#pragma once

#include <functional>
#include <string>
#include <vector>

#include "report/html.h"
#include "table/table.h"

namespace guardband::report {

/// A file of the browsable document, by its path below the folder.
struct PageFile {
    std::string path, content;
};

/// Makes the drawings that the pages show, as SVG; each gives an empty text where the table has too little to draw.
/// Either may be left out.
struct PageDrawings {
    std::function<std::string(const table::TapeFormat&, const table::Mode&)> footprint;
    std::function<std::string(const std::string& system)> line;
};

/// The whole table as static pages that link to each other and to nothing else: an index, a page for each format and
/// each TV system, the sources and what each is cited for, how to read it all, and the style sheet. They need neither a
/// server nor a script.
std::vector<PageFile> html_pages(const table::Table& table, const PageDrawings& drawings = {});

}  // namespace guardband::report
