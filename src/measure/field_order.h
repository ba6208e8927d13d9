#pragma once

#include "measure/clip_measurement.h"

namespace guardband::measure {

/// Whether the field of the lower lines comes first in time: as the pictures show it so far, or where nothing moves as
/// the clip declares it.
bool bottom_comes_first(const ClipContext& context);

}  // namespace guardband::measure
