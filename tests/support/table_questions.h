#pragma once

#include <string>

#include "quantity/errors.h"
#include "table/table.h"

namespace guardband::support {

/// The table that is built into the program, read once.
inline const table::Table& built_in() {
    static const table::Table table = table::load_table();
    return table;
}

/// What the InputError says that a call throws; `none` if it throws none.
template <typename Call>
std::string fault_of(const Call& call) {
    try {
        call();
    } catch (const quantity::InputError& e) {
        return e.what();
    }
    return "none";
}

}  // namespace guardband::support
