#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "identify/likelihood.h"

namespace guardband::identify {

/// What a reading is taken in: the speed that plays, the pack's diameter.
struct Setting {
    std::optional<double> played_mm_s;
    double diameter_mm = 0;
};
Setting setting_of(const Observation& seen);

/// What would be seen of a mode's tape if a kind of evidence were observed.
struct Prediction {
    bool absent = false;  ///< there is no such thing
    bool known = false;   ///< it rests on figures of the table
    Mixture numbers;      ///< of the logarithm, the reading's own error not in it; weights sum to 1
    std::vector<std::pair<std::string, double>> words;  ///< probability of each, the likeliest first; sum to 1
};

/// @param state  what is believed of the mode
Prediction predicted(const Models& models, const ModeModel& model, const ModeState& state, Kind kind,
                     const Setting& setting);

/// The number that is most likely, in the kind's unit; nothing for words and where nothing is known.
std::optional<double> expected_value(const Prediction& prediction);

}  // namespace guardband::identify
