#pragma once

#include <string>

#include "table/document.h"
#include "table/table.h"

namespace guardband::table {

/// What must be known of a format file before the others are read.
struct FormatHeading {
    std::string id, based_on;
    int line = 0;
};

/// @throws InputError if there is no `[format]` with an id
FormatHeading read_format_heading(const Document& document);

/// Reads one format file into the table; the format it is based on must be there already. @throws InputError
void read_format(const Document& document, Table& table);

/// Checks what formats say of each other: names and aliases are unique, the formats they play exist. @throws InputError
void expect_formats_agree(const Table& table);

}  // namespace guardband::table
