#pragma once

#include <string>
#include <string_view>

#include "table/table.h"

namespace guardband::table {

/// The table as bytes, for the build to put into the program: reading `formats/` anew at every start would cost several
/// times as long. Good for the very build that made it and no other; never written to a file that outlives it.
std::string pack(const Table& table);

/// The table that `pack` made these bytes of. @throws DomainError if they are cut short
Table unpack(std::string_view bytes);

}  // namespace guardband::table
