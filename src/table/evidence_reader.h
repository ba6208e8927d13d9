#pragma once

#include "table/document.h"
#include "table/table.h"

namespace guardband::table {

/// Reads `evidence.toml`: the kinds of evidence and the regions. @throws InputError
void read_evidence(const Document& document, Table& table);

}  // namespace guardband::table
