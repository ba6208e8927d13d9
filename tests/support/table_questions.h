#pragma once

#include <string>

#include "quantity/errors.h"
#include "support/built_in_table.h"

namespace guardband::support {

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
