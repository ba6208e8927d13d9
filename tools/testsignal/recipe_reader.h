#pragma once

#include <string>
#include <string_view>

#include "table/table.h"
#include "testsignal/recipe.h"

namespace guardband::testsignal {

/// Reads a recipe file. Strict: unknown keys, wrong types and impossible values are errors. `system` takes raster,
/// rates, sample aspect, levels and field order from the table. `every-key.toml` lists the keys.
/// @throws quantity::InputError whose input is the path, or `file:line: key`
Recipe read_recipe(const std::string& path, const table::Table& table);

/// As above for text that is at hand. @param file  how errors name it
Recipe parse_recipe(const std::string& file, std::string_view text, const table::Table& table);

}  // namespace guardband::testsignal
