#pragma once

#include <nlohmann/json.hpp>

#include "quantity/figure.h"
#include "table/table.h"

namespace guardband::report {

/// Objects keep their keys in the order in which they were put: a report reads from the general to the particular.
using Json = nlohmann::ordered_json;

/// A fact of the table: value, unit, the digits as printed, range, source, standing and what other sources say.
Json to_json(const table::Fact& fact);

/// A list of facts as an object by key.
Json to_json(const table::Facts& facts);

/// A bare value: a number, a count, a text, or null.
Json to_json(const quantity::Figure::Value& value);

/// A figure as the contract has it: value, unit, uncertainty, limit, verdict; or value null and the reason.
Json to_json(const quantity::Figure& figure);

/// What happened at one moment of a recording.
Json to_json(const quantity::Event& event);

/// A source as the table lists it.
Json to_json(const table::Source& source);

/// The object with what makes it complete for another program: `sources`, all that its facts cite anywhere below, in
/// the table's order; `table_version`, `table_changed` and, where folders were read on top of the built-in table,
/// `table_additions`.
Json with_edition(Json json, const table::Table& table);

/// The object as text for standard output: two blanks a level, UTF-8 as it is.
std::string to_text(const Json& json);

}  // namespace guardband::report
