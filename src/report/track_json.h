#pragma once

#include <string>

#include "quantity/figure.h"
#include "report/json.h"

namespace guardband::report {

/// Adds a number under `key` and what it may be off under `KEY_uncertainty`; or null, and why under `KEY_reason`.
void add_number(Json& json, const std::string& key, const quantity::Figure& figure);

}  // namespace guardband::report
