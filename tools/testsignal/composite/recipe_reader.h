#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "table/table.h"
#include "testsignal/composite/recipe.h"

namespace guardband::testsignal {

/// Reads a recipe whose file has a table `[composite]`; strict like `parse_recipe`. `every-composite-key.toml` lists
/// the keys.
/// @returns nothing if the file has no such table
/// @throws quantity::InputError naming file, line and key of the first fault
std::optional<CompositeRecipe> parse_composite_recipe(const std::string& file, std::string_view text,
                                                      const table::Table& table);

/// The same from a file. @returns nothing for a file that can't be read: the reader of clips says so
std::optional<CompositeRecipe> read_composite_recipe(const std::string& path, const table::Table& table);

}  // namespace guardband::testsignal
