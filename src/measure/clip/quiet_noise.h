#pragma once

#include "measure/features.h"

namespace guardband::measure {

/// A quick look at the noise of one frame, 8-bit codes RMS: what the calmest places change by, from the frame before or
/// from line to line, whichever is less. Reads high where everything moves and has detail; 0 if there is none. For
/// thresholds, not for figures.
float quiet_noise(const FrameFeatures& features, int bit_depth);

/// Whether more segments than chance allows differ from the line above by much less than the noise would make them, but
/// by something: a codec that keeps few coefficients leaves such. @param noise  as `quiet_noise` gives it
bool noise_is_coded(const FrameFeatures& features, int bit_depth, float noise);

/// Whether a codec has thrown noise away here and there. It does so in small blocks: more segments than chance allows
/// differ from the line above by much less than the noise would make them, but by something, the line above or below
/// does so too, and those beside don't. A piece that was filled from another line is longer.
/// @param noise  as `quiet_noise` gives it
bool noise_is_in_blocks(const FrameFeatures& features, int bit_depth, float noise);

}  // namespace guardband::measure
