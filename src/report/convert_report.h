#pragma once

#include <string>

#include "calc/conversion.h"

namespace guardband::report {

/// The answer for people, on a terminal of 80 columns. @param explain  appends how it was got
std::string conversion_text(const calc::Conversion& conversion, const table::Table& table, bool explain);

/// `{"value", "unit"}` as the contract has it; where they apply `text` (a time code), `half_width`, `basis`, `remarks`,
/// further numbers, `working`, `table_version`.
std::string conversion_json(const calc::Conversion& conversion, const table::Table& table, bool explain);

}  // namespace guardband::report
