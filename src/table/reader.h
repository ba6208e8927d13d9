#pragma once

#include "table/document.h"
#include "table/table.h"

namespace guardband::table {

/// Reads the documents of one folder into a table, strictly: unknown keys, missing units, unknown sources, impossible
/// values and missing required keys are errors that name file, line and key. Entries replace those of the same id that
/// the table has already.
/// @param documents  all files of the folder, in any order
void read_documents(const std::vector<Document>& documents, Table& table);

/// Reads all `.toml` files of a folder. @throws InputError also if there is no such folder or none such file
void read_folder(const std::string& folder, Table& table);

}  // namespace guardband::table
