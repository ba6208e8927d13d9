#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "quantity/rational.h"

namespace guardband::calc {

/// How time code counts frames: labels run through 0 to counted − 1 each second, whatever the true rate. Drop-frame
/// skips the first labels of each minute but every tenth, so that the label keeps up with the clock (rule of SMPTE 12M,
/// from memory; tests hold it against FFmpeg's libavutil over a day at every rate).
struct TimeCodeRate {
    quantity::Rational frames_hz;  ///< true frames a second
    int counted = 0;               ///< labels a second: 30 for 30000/1001
    int dropped = 0;               ///< labels skipped each minute but every tenth; 0: none

    bool drops() const { return dropped != 0; }
    std::int64_t frames_per_day() const;
};

/// The rate of a time code. Drop-frame is for rates of 30000/1001 and its multiples only.
/// @throws DomainError for a rate that no time code counts: 24, 25, 30, 50, 60 and those over 1.001 have one
TimeCodeRate time_code_rate(const quantity::Rational& frames_hz, bool drop);

/// Whether there is a drop-frame count of this rate.
bool has_drop_frame(const quantity::Rational& frames_hz);

/// A label of a frame.
struct TimeCode {
    int hours = 0, minutes = 0, seconds = 0, frames = 0;
    bool drop = false;

    friend bool operator==(const TimeCode&, const TimeCode&) = default;
};

/// `01:00:00;02` with a semicolon for drop-frame, else a colon.
std::string to_string(const TimeCode& code);

/// Reads `01:00:00:02`, drop-frame where a semicolon or a point stands before the frames.
/// @throws InputError if it is no time code; whether its frame exists depends on the rate
TimeCode parse_time_code(std::string_view text, const std::string& input);

/// The label of a frame, counted from 0 at 00:00:00:00; after a day it begins anew.
/// @param frame  0 or more  @throws DomainError otherwise
TimeCode time_code_of(std::int64_t frame, const TimeCodeRate& rate);

/// Frames from 00:00:00:00 to this label.
/// @throws InputError for a label that this rate does not have: a frame number too high, or one that drop-frame skips,
/// with the labels on both sides of the gap
std::int64_t frame_of(const TimeCode& code, const TimeCodeRate& rate, const std::string& input);

}  // namespace guardband::calc
