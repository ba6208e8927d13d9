#pragma once

#include "measure/clip/mean_square.h"
#include "media/clip.h"

namespace guardband::measure {

/// What is to be said of an RMS of displacements beyond its scatter, in ns: by how much the method itself may be off, 1
/// ns and 1 %, and what the file's codec took.
///
/// DV of 25 Mbit/s rounds what differs from line to line within a block of eight: 3 ns of 10 ns RMS or more, less of
/// less, at 34 to 46 dB and rises of 140 to 300 ns alike, measured on what FFmpeg's encoder makes. That is added, with
/// an uncertainty of 1.2 ns, and 1.5 ns of its rounding; what goes on smoothly from line to line keeps its size. What
/// other encoders and other lossy codecs take isn't known.
/// @param rough_ns  what of it has nothing in common from line to line, RMS
Estimated beside_method_and_codec(const Estimated& found_ns, double rough_ns, const media::ClipInfo& info);

/// Whether the codec's part is known, so that something has been added.
bool codec_takes_known_part(const media::ClipInfo& info);

}  // namespace guardband::measure
