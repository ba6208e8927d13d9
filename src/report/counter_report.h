#pragma once

#include <string>

#include "calc/counter_answer.h"
#include "report/drawing/drawing_sheet.h"

namespace guardband::report {

/// A counter for people, 80 columns: the answer, what was taken for granted with so many pairs, the pairs, the card.
/// @param card  nullptr: none was asked for
std::string counter_text(const calc::CounterAnswer& answer, const calc::CounterQuery& query,
                         const calc::CounterCard* card, const table::Table& table, bool explain);

/// As the contract has it: `reading`, `seconds`, `seconds_uncertainty` (null where nothing was asked); and
/// `reading_uncertainty`, `address`, `model`, `pairs`, `doubtful`, `end`, `card`.
std::string counter_json(const calc::CounterAnswer& answer, const calc::CounterQuery& query,
                         const calc::CounterCard* card, const table::Table& table, bool explain);

/// The lookup card, to be printed and kept with the machine or the tape.
drawing::Drawing counter_card_drawing(const calc::CounterAnswer& answer, const calc::CounterQuery& query,
                                      const calc::CounterCard& card, const table::Table& table);

}  // namespace guardband::report
