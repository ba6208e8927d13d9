#pragma once

#include <array>
#include <optional>

#include "measure/clip/displacement_store.h"

namespace guardband::measure {

/// Lines at the bottom where a switch can be, from the standards' 5 to 8 lines before sync to far too early.
inline constexpr int switch_zone = 24;

/// Of the line of a switch, which is seen between two lines: uniform over one.
inline constexpr double line_of_switch_error = 0.3;

/// Where the heads change over in a clip's fields.
struct HeadSwitch {
    double lines = 0, lines_error = 0;  ///< from the switch to the end of the field's active picture
    double step_px = 0, step_error_px = 0;
    std::array<double, 2> step_by_parity_px{};
};

/// Finds the head switch: the line near the bottom at which the displacement steps in one field after another, by the
/// same amount in all fields of a parity or by one that changes.
///
/// Method: where no edge of the picture places the lines, see `find_switch_without_edges`. Else the mean squared step
/// from each line to the next, noise taken out, over all fields. The switch is where it stands out most from the steps
/// of all other lines, among the last 24 lines. The step is the mean displacement after it less the mean of the ten
/// lines before it, over the fields of each parity but for a tenth at either end. Nothing is claimed unless the steps
/// there stand out eightfold from the scatter of the others, are 20 ns RMS, and last for more than one line.
///
/// Bias of the line: none; of the step below 3 ns. Can't tell: a switch below the stored picture; one that all lines'
/// jitter hides.
std::optional<HeadSwitch> find_head_switch(const DisplacementStore& store);

}  // namespace guardband::measure
