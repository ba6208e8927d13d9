#pragma once

#include "table/table.h"

namespace guardband::calc {

/// The part of a line that carries picture, µs: the line's period less its blanking.
/// @throws DomainError if blanking is not shorter than the line
double active_line_us(double line_rate_hz, double line_blanking_us);

/// Lines of horizontal resolution for each MHz of bandwidth: 2 T / a. A cycle shows as a dark and a light line, T µs of
/// picture hold T cycles of each MHz, and TVL count over a width that equals the picture's height, a = width / height.
/// Definition of the trade; tests/published/resolution.toml holds it against printed pairs.
/// @param active_us, aspect  above 0  @throws DomainError otherwise
double tvl_per_mhz(double active_us, double aspect);

}  // namespace guardband::calc
