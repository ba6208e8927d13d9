#pragma once

#include "testsignal/composite/data_lines.h"
#include "testsignal/composite/system.h"
#include "testsignal/section.h"

namespace guardband::testsignal {

/// The table `[data_lines]` of a recipe.
/// @throws quantity::InputError naming file, line and key of the first fault
DataLines read_data_lines(Section section, const CompositeSystem& system);

}  // namespace guardband::testsignal
