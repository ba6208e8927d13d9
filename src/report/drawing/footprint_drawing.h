#pragma once

#include <string>

#include "report/drawing/drawing_sheet.h"
#include "table/table.h"

namespace guardband::report::drawing {

/// The tracks of one mode on the tape, to scale, on a sheet of A4: a whole track, the width of the tape, and the tracks
/// under a glass.
/// @param input  how an error names the place
/// @throws InputError if the table lacks what nothing can be drawn without
Drawing footprint_drawing(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode,
                          const std::string& input);

}  // namespace guardband::report::drawing
