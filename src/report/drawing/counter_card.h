#pragma once

#include <string>
#include <vector>

#include "calc/counter_answer.h"

namespace guardband::report::drawing {

/// What stands on a lookup card beside its rows.
struct CardWords {
    std::string title, subtitle;
    std::vector<std::string> notes;  ///< at its foot
};

/// Rows of one kind that fit on a card.
inline constexpr std::size_t card_rows = 40;

/// A lookup card of a counter as SVG: time at round readings on its left half, reading at round times on its right. Its
/// size is A6 across, 148 × 105 mm, so that four print on a sheet of A4.
std::string counter_card(const calc::CounterCard& card, const CardWords& words);

}  // namespace guardband::report::drawing
