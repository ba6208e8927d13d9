#pragma once

#include <string>
#include <vector>

#include "calc/inventory_storage.h"

namespace guardband::command_line {

/// Reads an inventory of tapes: comma-separated values (RFC 4180) with a heading row. Columns `address` and one of
/// `grade` and `minutes` are needed, `count` is 1 where it is left out; other columns are the archive's own and are
/// passed over.
/// @throws InputError naming file and line
std::vector<calc::InventoryLine> read_inventory(const std::string& path);

}  // namespace guardband::command_line
