#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "quantity/quantity.h"
#include "table/schema.h"
#include "table/table.h"

namespace guardband::table {

/// The name by which people search for the figures of a key: the key, with its section in front where several sections
/// have one that reads alike: `tape_width`, `shell_width`, `drum_diameter`, `grade_length`, but `tape_speed`,
/// `luma_carrier_white`.
std::string search_name(const KeyRule& rule);

/// The rules of tape formats whose figures can be searched for, in the schema's order.
std::vector<const KeyRule*> searchable_rules();

/// What one figure must be: `tape_width=12.65`, `drum_diameter=62±0.5`, `colour_under_carrier=629kHz`, `coating=metal`.
struct Condition {
    const KeyRule* rule = nullptr;
    std::optional<quantity::Quantity> number;  ///< in the rule's unit or another of its dimension; absent for texts
    double rounding = 0;                       ///< half the last digit of a number without ±, in its own unit
    std::string text;                          ///< a part of the text, letter case ignored
};

/// Reads a condition. @throws InputError with the nearest key, or with the units that the key takes
Condition parse_condition(std::string_view text, const std::string& option);

/// True when a fact, or what another source says beside it, can be what the condition asks for: the ranges of the two
/// overlap. The fact's range is its tolerance, or else the rounding of its digits; the condition's its ±, or else the
/// rounding of its digits.
bool meets(const Fact& fact, const Condition& condition);

/// One place in the table that meets all conditions, as widely as it can be said: a whole format, all its modes on one
/// system, or one mode.
struct Finding {
    const TapeFormat* format = nullptr;
    std::string system, mode;        ///< empty: all of them
    const Grade* grade = nullptr;    ///< where a condition is of grades
    const Shell* shell = nullptr;    ///< where a condition is of shells
    std::vector<const Fact*> facts;  ///< what met each condition, in their order
};

/// Everything in the table that meets all of the conditions, in the order of the table.
/// @param system  only modes on this scanning standard; empty: all
std::vector<Finding> search(const Table& table, const std::vector<Condition>& conditions, std::string_view system = {});

/// `vhs`, `vhs:625/50`, `vhs:625/50:LP`, with the grade or shell behind it where there is one.
std::string place_of(const Finding& finding);

}  // namespace guardband::table
