#pragma once

#include <string>
#include <variant>
#include <vector>

#include "table/table.h"

namespace guardband::report {

/// A scanning standard, a colour system or a transmission system.
using System = std::variant<const table::Scanning*, const table::Colour*, const table::Transmission*>;

/// All systems for people: scanning standards, colour systems, transmission systems.
std::string systems_list_text(const table::Table& table);
/// The same as one list of comma-separated values.
std::string systems_list_csv(const table::Table& table);

/// One system for people, with the sources as numbered notes and what belongs to it.
std::string system_page_text(const table::Table& table, const System& system);

/// `{"systems": [...]}`: everything that the table has of them, each with its `kind`.
std::string systems_json(const table::Table& table, const std::vector<System>& systems);

}  // namespace guardband::report
