#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace guardband::report {

/// The body of the page that says how to read the others.
std::string_view standings_body();

/// How many figures rest on what, as a bar and in words.
/// @param counts  in the order of `table::Standing`
std::string standing_bar(const std::vector<int>& counts);

}  // namespace guardband::report
