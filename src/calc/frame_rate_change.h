#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "quantity/rational.h"

namespace guardband::calc {

/// What becomes of a recording that runs at another speed than it was made at.
struct SpeedChange {
    double speed_ratio = 1;  ///< played over recorded
    double time_ratio = 1;   ///< running time over that at the recorded speed: its inverse
    double pitch_cents = 0;  ///< how far sound rises if it is not corrected: 1200 log2 of the speed ratio
};

/// @param recorded, played  speeds or rates in one unit, above 0  @throws DomainError otherwise
SpeedChange speed_change(double recorded, double played);

/// The exact frame rate that a number means: `29.97` and `30000/1001` are 30000/1001, `23.976` and `23.98` 24000/1001,
/// `25` is 25. A number of two decimals or more within half its last digit of a whole rate over 1.001 is that rate.
/// @throws InputError if it is no rate above 0
quantity::Rational frame_rate_named(std::string_view text, const std::string& input);

}  // namespace guardband::calc
