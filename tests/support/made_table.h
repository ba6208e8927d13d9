#pragma once

#include <string>

#include "table/table.h"

namespace guardband::support {

/// The built-in sources and systems with one invented format and no other: two modes on 625/50, one on 525/60, a
/// source that disagrees, an unknown, a text with signs that HTML must escape.
table::Table made_table();

/// That format.
const table::TapeFormat& made_format(const table::Table& table);

}  // namespace guardband::support
