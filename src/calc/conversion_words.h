#pragma once

#include <functional>
#include <optional>
#include <string>

#include "quantity/quantity.h"

namespace guardband::calc {

// How the words of a conversion are read.

/// One end of a conversion: a unit, or a notation that is read as one: `timecode` as frames, `h:mm:ss` as seconds.
struct ConversionEnd {
    const quantity::Unit* unit = nullptr;
    bool is_time_code = false, is_clock = false;

    std::string name() const;
};

/// @throws InputError with the nearest unit or all of them if there is none of this name
ConversionEnd end_named(const std::string& name, const std::string& input);

/// Whether something bridges two different dimensions: a system, a clock or a logarithm.
bool are_bridged(quantity::Dimension a, quantity::Dimension b);

/// Everything that a unit converts to, separated by commas: for error texts.
std::string targets_of(const ConversionEnd& from);

/// A speed or a rate written with its number: `24fps`, `30000/1001`, `33.35mm/s`. Nothing if the text is a unit or
/// begins with no digit. @throws InputError if it begins as a speed and is none
std::optional<quantity::Quantity> speed_in(const std::string& text, const std::string& input);

/// Seconds of `1:30:00`, `90:00` (minutes and seconds) or `1:30:00.5`. Nothing if it is no such text.
std::optional<double> clock_seconds(const std::string& text);

/// `1:30:00`, with milliseconds where there are any.
std::string clock_text(double seconds);

}  // namespace guardband::calc
