#pragma once

#include <string>
#include <vector>

#include "identify/observation.h"
#include "quantity/figure.h"

namespace guardband::identify {

/// What the figures of a measured capture say of the tape, by the ids of the figures: `field_rate`, `line_rate`,
/// `colour`, `luma_bandwidth`, `sound_bandwidth`, `sound_speed_ratio` and `pulse_rate` (of the control track). Others,
/// and figures that could not be measured, say nothing. A capture made from a time-base corrector shows the corrector's
/// rates, which are those of the drum all the same. A progressive one hides the fields, so that its rate says nothing.
///
/// @param playing_as  address or speed of the machine's mode during the capture; empty if it was not said. Without it
/// the
///                    sound's speed says nothing, and pulses are taken as played at the speed they were recorded at.
std::vector<Observation> observations_from(const table::Table& table, const quantity::Figures& figures,
                                           const std::string& playing_as, const std::string& input);

}  // namespace guardband::identify
