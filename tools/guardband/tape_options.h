#pragma once

#include <string>

#include "calc/pack_query.h"

namespace guardband::command_line {

/// What a command takes to name a tape on a reel.
struct TapeOptions {
    std::string format, grade, address, outer, hub, thickness, length;
};

/// Puts the tape that the options name into a query; a size has the uncertainty that was given or that its digits
/// leave.
/// @throws InputError for what the table doesn't have, for a mode of another format, and for a grade without a format
void put_tape(const table::Table& table, const TapeOptions& options, calc::TapeQuery& query);

}  // namespace guardband::command_line
