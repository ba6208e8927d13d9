#pragma once

#include <optional>
#include <vector>

namespace guardband::measure {

/// What a test tone was recorded at, most likely.
struct NominalTone {
    double hz = 0;
    bool is_given = false;          ///< by the user, not guessed
    std::vector<double> others_hz;  ///< other test tones that it may have been
};

/// The tone as given, or the nearest of the trade's test tones: 3150 Hz (IEC 60386, AES6), 3000 Hz (NAB and JIS
/// practice), 3300, 1000, 6300 and 10 000 Hz (alignment tapes; common practice, no source). Others within 12 % are
/// named as alternatives: 3000, 3150 and 3300 Hz lie 5 % apart, so that a guess is no proof of a speed.
NominalTone nominal_tone(double measured_hz, std::optional<double> given_hz);

}  // namespace guardband::measure
