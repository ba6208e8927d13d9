#pragma once

#include <string>
#include <variant>
#include <vector>

#include "report/figure_page.h"
#include "table/schema.h"
#include "table/table.h"

namespace guardband::report {

/// A scanning standard, a colour system or a transmission system.
using System = std::variant<const table::Scanning*, const table::Colour*, const table::Transmission*>;

/// All of them, scanning standards first.
std::vector<System> all_systems(const table::Table& table);

const std::string& id_of(const System& system);

/// `scanning`, `colour`, `transmission`.
std::string kind_of(const System& system);

/// The scanning standard that a system is or runs on.
const table::Scanning& scanning_of(const table::Table& table, const System& system);

/// The fact of a key in the system itself or, for a key of scanning standards, in the one that it runs on; nullptr if
/// there is none.
const table::Fact* fact_for_system(const table::Table& table, const System& system, const table::KeyRule& rule);

/// One system as a page, with the rasters and other systems that belong to it.
FigurePage system_page(const table::Table& table, const System& system);

}  // namespace guardband::report
