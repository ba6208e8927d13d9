#pragma once

#include <optional>

#include "measure/clip/mean_square.h"
#include "media/clip.h"
#include "table/table.h"

namespace guardband::measure {

/// What a lossy codec takes of displacement that has nothing in common from line to line, ns RMS, by the table.
struct CodecLoss {
    double taken_ns = 0, taken_error_ns = 0;  ///< of large displacements
    double from_ns = 0;                       ///< the size from which on nearly all of that is taken, and less of less
    double rounding_ns = 0;  ///< what its rounding errs by, which a line's two edges may have in common
};

/// By how much the file's codec errs where an edge of the picture rises, beside the noise, RMS 8-bit codes; 0 if it
/// errs nowhere, or if the table doesn't know.
double codec_edge_error(const media::ClipInfo& info, const table::Table& table);

/// Nothing if the file's codec takes nothing, or if the table doesn't know what. What goes on smoothly from line to
/// line keeps its size in any case.
std::optional<CodecLoss> known_codec_loss(const media::ClipInfo& info, const table::Table& table);

/// An RMS of displacements, ns, with what is to be said of it beyond its scatter: by how much the method itself may be
/// off, 1 ns and 1 %, and what the file's codec took.
/// @param rough_ns  what of it has nothing in common from line to line, RMS
Estimated beside_method_and_codec(const Estimated& found_ns, double rough_ns, const std::optional<CodecLoss>& loss);

}  // namespace guardband::measure
