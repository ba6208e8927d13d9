#pragma once

#include <span>
#include <string>
#include <string_view>

namespace guardband::table {

/// The candidate that a mistyped name most likely means, or empty if none is near: at most one edit in three letters
/// (insert, drop, change or swap of neighbours), letter case ignored.
std::string nearest_name(std::string_view mistyped, std::span<const std::string> candidates);

/// True when two names are the same but for letter case.
bool same_name(std::string_view a, std::string_view b);

/// What to say of a name that isn't known: `did you mean "vhs"?`, or else how to list the known ones.
std::string did_you_mean(std::string_view mistyped, std::span<const std::string> candidates,
                         const std::string& otherwise);

}  // namespace guardband::table
