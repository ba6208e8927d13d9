#pragma once

#include <string>
#include <string_view>

#include "quantity/unit.h"
#include "table/fact.h"

namespace guardband::report {

/// A blank at which no line is broken: between a number and what belongs to it. Terminal pages print a plain blank in
/// its place.
inline constexpr std::string_view no_break = "\u00A0";

/// The unit in which people are shown the figures of a key, whatever unit its source prints: that of the schema. The
/// fact's own where the schema has no such key.
const quantity::Unit& shown_unit(const table::Fact& fact);

/// A unit as people write it after a number: ` mm/s`, `°`; empty for a bare number.
std::string unit_suffix(const quantity::Unit& unit);

enum class WithUnit { Yes, No };

/// A fact's value for people in the unit of the schema. Digits stay as printed, so that the source's rounding shows;
/// what is printed in a unit of another system follows in brackets; an exact value shows the expression that it comes
/// from; a text is itself. `33.35 ± 0.5 % mm/s`, `42–45 dB`, `381 mm/s (15 in/s)`, `626.953125 kHz = (40 + 1/8) × line
/// rate`. Empty for an unknown fact.
std::string value_text(const table::Fact& fact, WithUnit with_unit = WithUnit::Yes);

/// The same in the unit that its source prints.
std::string value_text_as_printed(const table::Fact& fact);

/// True when two facts say the same: value or text, range, source, place, standing, remarks and what other sources say.
bool same_statement(const table::Fact& a, const table::Fact& b);

}  // namespace guardband::report
