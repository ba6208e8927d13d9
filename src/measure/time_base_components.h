#pragma once

#include <string_view>

#include "quantity/figure.h"
#include "table/table.h"

namespace guardband::measure {

/// Words for what is locked to the picture. With an address a drum may take the place of the latter.
inline constexpr std::string_view field_rate_part = "field rate", frame_rate_part = "frame rate (drum of two heads)";

/// A steady motion of the lines as a component: its speed is 2πf times its amplitude. @param frame_harmonic  of the
/// frame rate, if it is locked to that; else 0
quantity::Component time_base_component(double hz, double amplitude_ns, int frame_harmonic = 0);

/// Names what turns at the rates of `time_base_components`: the fields, the drum, the mains, every other line. The
/// drum's rate is the table's for the mode that the tape is said to be; else that of the frame is taken for a drum of
/// two heads. Table: no capstans, their diameters are the makers'. @param scanning  id of the scanning standard; may be
/// empty   @param address  as it was given, checked; may be empty
void name_time_base_components(quantity::Figures& figures, const table::Table& table, std::string_view scanning,
                               std::string_view address);

}  // namespace guardband::measure
