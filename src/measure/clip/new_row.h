#pragma once

#include <cstddef>
#include <optional>
#include <span>

namespace guardband::measure {

/// Where a row of stamps goes on after an interruption.
struct NewRow {
    std::size_t from = 0;    ///< the first stamp that belongs to it
    double off_periods = 0;  ///< how far it lies behind the old row
};

/// Looks for stamps that agree with each other and not with the row before: at least two within a quarter of a period.
/// Of several such rows one behind the other, as with a frame missing every now and then, the first on the way to the
/// one with most stamps.
/// @param offs    how far each stamp in doubt lies off the old row, periods; within ±0.5 it belongs to that
/// @param at_end  nothing follows: a single late stamp is believed too if it lies a whole number of periods, at most
/// 25, off
std::optional<NewRow> find_new_row(std::span<const double> offs, bool at_end);

}  // namespace guardband::measure
