#pragma once

#include <cstdint>
#include <optional>
#include <span>

#include "dsp/uneven_sines.h"
#include "measure/clip/displacement_series.h"
#include "measure/clip/displacement_store.h"
#include "measure/clip/fixed_displacement.h"

namespace guardband::measure {

/// `flagging`, samples: mean over the fields that show all of their first lines, with the scatter from field to field;
/// nothing where too few do.
std::optional<Estimated> flagging(const DisplacementStore& store);

/// `flagging` of a clip whose lines move steadily as well.
///
/// Why: over a short clip the mean of a sine at the top of the fields is not 0, and fields whose lines couldn't be
/// placed, such as those from which edges were learnt, take their part of it with them.
///
/// Method: the sines are taken out of each line; what is left at the top against the middle is the mean over the fields
/// that show it, and what the sines do there is reckoned for every field of the clip.
///
/// @param frames  of the clip, from its first  @param sines  in samples, at times from the first frame of the series on
/// @returns samples; nothing where too few fields show their first lines
std::optional<Estimated> flagging_beside_sines(const DisplacementSeries& series, std::int64_t frames,
                                               const LineTiming& timing, std::span<const dsp::Sine> sines);

}  // namespace guardband::measure
