#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <span>

#include "measure/clip/mean_square.h"

namespace guardband::measure {

/// By how much the lines of either field step at a line beyond what the lines around it let expect, where no edge
/// places the lines: outlines that slant step from line to line, too, and lines that jitter go and come back.
///
/// Method: the best linear unbiased estimate of both fields' steps from the steps of both fields at the lines around,
/// with the covariance that the steps of the clip's other lines have among each other, within a field and across: the
/// lines of the other field lie in between, and outlines slant alike there. Where lines jitter by themselves it comes
/// near to the difference between the means before and after; where outlines slant and the slants add up, to that
/// between straight lines through the few lines around. Steps six times as large as usual are taken for rows that
/// didn't match. The errors are what the same estimate makes of the clip's other lines, and a third more.
///
/// Efficiency, from 180 lines that are the rule: the scatter is at most 1.5 times the least that is possible.
///
/// @param steps_px    of each line of either field from the line above, not a number where unknown; as many of both
/// @param first, end  lines whose steps are the rule
/// @returns samples; nothing where too little is known
std::optional<std::array<Estimated, 2>> lone_steps(const std::array<std::span<const double>, 2>& steps_px,
                                                   std::size_t line, std::size_t first, std::size_t end);

}  // namespace guardband::measure
