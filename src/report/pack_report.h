#pragma once

#include <string>

#include "calc/pack_answer.h"

namespace guardband::report {

/// A pack for people, 80 columns: what was asked first, then its sizes, what it plays, its reels, rewinding, its shell.
std::string pack_text(const calc::PackAnswer& answer, const calc::PackQuery& query, const table::Table& table,
                      bool explain);

/// As the contract has it: `length_m`, `seconds` (of the mode that was named, else null), `outer_mm`, `hub_mm`,
/// `thickness_um`, `turns`; and `found` (which of the sizes was worked out), `uncertainties` by the same keys, `times`
/// (every mode), `reels` (at points of the tape), `other_reel`, `rewinding`, `shell`.
std::string pack_json(const calc::PackAnswer& answer, const calc::PackQuery& query, const table::Table& table,
                      bool explain);

}  // namespace guardband::report
