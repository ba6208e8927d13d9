#pragma once

#include "table/table.h"

namespace guardband::support {

/// The table that is built into the program, read once.
inline const table::Table& built_in() {
    static const table::Table table = table::load_table();
    return table;
}

}  // namespace guardband::support
