#pragma once

#include <optional>
#include <string>

#include "quantity/rational.h"

namespace guardband::command_line {

/// A rate as somebody wrote it.
struct Rate {
    quantity::Rational exact;
    double off_hz = 0;   ///< what `±` says
    std::string remark;  ///< `59.94 means 60000/1001`; empty if it is taken as it stands
};

/// Two whole numbers with a stroke between: `1/50`, `60000/1001`; nothing for anything else.
std::optional<quantity::Rational> ratio_of(const std::string& text);

/// Reads `25`, `59.94`, `30000/1001`, `50.02±0.01`, `60Hz`. A rate in decimals may mean a whole one over 1.001,
/// as in `calc::frame_rate_named`.
/// @throws InputError for what is no rate from 1 to 1000 a second
Rate parse_rate(const std::string& text, const std::string& option);

}  // namespace guardband::command_line
