#pragma once

#include "table/document.h"
#include "table/table.h"

namespace guardband::table {

/// Reads `codecs.toml`: codecs and containers of captures. @throws InputError
void read_codecs(const Document& document, Table& table);

}  // namespace guardband::table
