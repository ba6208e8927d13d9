#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>

#include "measure/clip/displacement_series.h"
#include "measure/clip/mean_square.h"
#include "measure/clip_measurement.h"

namespace guardband::measure {

/// `time_base_components` and `time_base_error_fixed` by `displacement_spectrum` and `fixed_displacement`.
/// @param end            first line of the fields that no longer counts
/// @param frames         of the clip
/// @param without_edges  the reason where no edges place the lines
/// @returns `flagging` beside steady motions, samples, if there are any and the series holds the whole clip
std::optional<Estimated> add_motion_figures(quantity::Figures& figures, const DisplacementSeries& series,
                                            std::size_t end, std::int64_t frames, const ClipContext& context,
                                            double ns_per_px, const char* without_edges);

}  // namespace guardband::measure
