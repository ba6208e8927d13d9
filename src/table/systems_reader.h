#pragma once

#include "table/document.h"
#include "table/table.h"

namespace guardband::table {

/// Reads `table.toml`: which edition of the table the folder holds. @throws InputError
void read_edition(const Document& document, Table& table);

/// Reads `sources.toml`. @throws InputError
void read_sources(const Document& document, Table& table);

/// Reads `tv-systems.toml`: scanning standards, rasters, colour and transmission systems, screens. @throws InputError
void read_systems(const Document& document, Table& table);

/// Reads `cautions.toml`. @throws InputError
void read_cautions(const Document& document, Table& table);

/// Reads `limits.toml`. @throws InputError
void read_limits(const Document& document, Table& table);

}  // namespace guardband::table
