#pragma once

#include <string>

#include "report/drawing/drawing_sheet.h"
#include "table/table.h"

namespace guardband::report::drawing {

/// One line of a system's signal and its field blanking, to scale, on a sheet of A4: a whole line, line blanking
/// enlarged, and the pulses of both fields.
/// @param system  a colour system, or a scanning standard (drawn without levels and burst)  @param input  how an error
/// names the place
/// @throws InputError if there is no such system or the table lacks the timing of its lines
Drawing line_drawing(const table::Table& table, const std::string& system, const std::string& input);

}  // namespace guardband::report::drawing
