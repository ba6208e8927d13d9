#pragma once

#include <string>
#include <vector>

namespace guardband::support {

/// The numbers that the groups of a pattern find in a text; none if it doesn't match.
/// @param pattern  regular expression, each group of which matches a number
std::vector<double> numbers_in(const std::string& text, const std::string& pattern);

}  // namespace guardband::support
