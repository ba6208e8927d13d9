#pragma once

#include <optional>

#include "measure/clip/head_switch.h"

namespace guardband::measure {

/// Finds the head switch where no edge of the picture places the lines: the line near the bottom at which most fields
/// of a parity step as no other line does.
///
/// Method: each line's usual step (`usual_step`) by the whole line, and by its left and right part, which must agree:
/// outlines that slant are other ones there. The switch is where both parts step most, among the last 24 lines. Nothing
/// is claimed unless most fields have that step, it stands out eightfold from the scatter of the others, is 150 ns or
/// more, twice as large as at any other line of the lower three quarters but the next ones, and what follows stays
/// there. How large it is: `lone_steps`.
///
/// Bias: none. Scatter of the step: 5 ns where the scene moves up or down, be it by a fifth of a sample a frame; 15
/// where it moves level, so that the same rows of the scene lie on either side of the switch all the time: what these
/// step by themselves nothing in the picture tells from the lines' step, neither its halves nor its fine detail. With
/// 50 ns of jitter and few fields more; the error says so. Can't tell: a switch below the stored picture or of less
/// than 150 ns.
std::optional<HeadSwitch> find_switch_without_edges(const DisplacementStore& store);

}  // namespace guardband::measure
