#pragma once

#include <string>
#include <variant>
#include <vector>

#include "report/figure_page.h"
#include "report/system_page.h"
#include "table/table.h"

namespace guardband::report {

/// What can stand in a column of a comparison: a whole format, one mode of one, or a TV system.
struct Subject {
    std::string name;  ///< as the heading has it: `vhs`, `vhs:625/50:LP`, `PAL`
    const table::TapeFormat* format = nullptr;
    const table::Mode* mode = nullptr;  ///< nullptr: the whole format
    System system;                      ///< where there is no format
};

/// A figure as it stands for one subject, with the systems or modes for which it holds where it isn't the same for all
/// of them.
struct ComparedFact {
    std::string holds_for;
    const table::Fact* fact;
};

/// One figure of all subjects.
struct ComparedFigure {
    std::string_view group;
    const table::KeyRule* rule;
    Relation relation;
    std::vector<std::vector<ComparedFact>> values;  ///< by subject; empty: not known
};

/// All figures of which at least one subject has one. Two numbers are near when they differ by no more than the coarser
/// of their roundings, or only in their tolerances; what the sources are makes no difference.
/// @param subjects  two or more, all of formats or all of systems
std::vector<ComparedFigure> compared(const table::Table& table, const std::vector<Subject>& subjects);

/// The comparison for people: what differs side by side, with a mark before each row; what is the same once, below its
/// group.
std::string comparison_text(const table::Table& table, const std::vector<Subject>& subjects);

/// `{"compared": [...], "figures": [{"group", "key", "section", "title", "relation", "values": [[fact, ...], ...]}],
/// "sources", "table_version"}`
std::string comparison_json(const table::Table& table, const std::vector<Subject>& subjects);

}  // namespace guardband::report
