#pragma once

#include <string>

#include "identify/mode_model.h"

namespace guardband::report {

/// A probability that is said without an alternative.
inline constexpr double settled_share = 0.9;

/// `98 %`, `99.4 %`, `over 99.9 %`.
std::string percent(double share);

/// `, speed II`, `, LP`; nothing for a format's only mode.
std::string mode_words(const table::Mode& mode);

/// `beta format, 525/60, speed I`.
std::string mode_name(const identify::ModeModel& model);

}  // namespace guardband::report
