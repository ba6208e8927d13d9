#pragma once

#include "report/json.h"

namespace guardband::report {

/// The JSON Schema (draft 2020-12) of the TOML files of a table, for editors and other programs: one schema for all of
/// them, which knows each file by its sections. Made from the rules that the reader itself goes by, so that the two
/// agree. What a schema can't say is left to the reader: that sources, scanning standards, modes and shells exist, that
/// values are possible in their unit and lie in their own range, that names are not taken.
Json files_schema();

}  // namespace guardband::report
