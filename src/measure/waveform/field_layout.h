#pragma once

#include "table/table.h"

namespace guardband::measure {

/// Where things lie in a field, in lines after the line that its field sync starts in (0 is the first line whose sync
/// comes with the first broad pulse or after it).
struct FieldLayout {
    const table::Scanning* scanning = nullptr;  ///< nullptr: not known
    int first_counted = 25;                     ///< third line of the picture
    int blanking_end = 23;                      ///< the picture has begun by then
    int last_uncounted = 4;  ///< lines before the next field sync that do not count: equalising pulses
};

/// @param scanning  nullptr if it is not known
FieldLayout layout_of(const table::Scanning* scanning);

}  // namespace guardband::measure
