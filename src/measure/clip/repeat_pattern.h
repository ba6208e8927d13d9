#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "measure/repeat_evidence.h"

namespace guardband::measure {

/// Repeats that come back at even distances, by what puts them there.
struct RepeatPattern {
    std::string_view cadence;   ///< fields that each picture stands, by turns: `2:3`; empty if it isn't film's
    double pictures_per_field;  ///< different frames of the source per frame of the clip: 4/5, 24/25
    std::vector<bool> belongs;  ///< which of the stretches follow the pattern
    std::size_t breaks = 0;     ///< places where it begins anew
};

/// The pattern that most of the stretches follow, at least four in five; nothing if none does. A repeat that was
/// missed, as where nothing moves, breaks no pattern.
std::optional<RepeatPattern> find_pattern(std::span<const RepeatedStretch> stretches);

}  // namespace guardband::measure
