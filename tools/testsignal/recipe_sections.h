#pragma once

#include "table/table.h"
#include "testsignal/recipe.h"
#include "testsignal/section.h"

namespace guardband::testsignal {

/// Reads every section of a recipe file, and nothing may be left over at its top level. What the top level says
/// (system, raster, codec) must have been read. @throws InputError `file:line: key`
void read_sections(Recipe& recipe, Section& top, const table::Table& table);

}  // namespace guardband::testsignal
