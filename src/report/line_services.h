#pragma once

#include <string>
#include <vector>

#include "quantity/figure.h"

namespace guardband::report {

/// How many there are, or that there is none.
std::string services_text(const std::vector<quantity::LineService>& services);

/// One service in a few lines, set in and broken at `width`: its name, where it stands and how often; what it says.
std::vector<std::string> service_lines(const quantity::LineService& service, std::size_t width);

/// `7-22, 320-335`.
std::string line_numbers_text(const std::vector<int>& lines);

}  // namespace guardband::report
