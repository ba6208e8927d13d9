#pragma once

#include <functional>
#include <span>

namespace guardband::measure {

/// Takes one row of a series, a value for each of its columns, no number where there is none. May be empty: not wanted.
using SeriesSink = std::function<void(std::span<const double>)>;

}  // namespace guardband::measure
