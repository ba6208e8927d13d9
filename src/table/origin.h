#pragma once

#include "table/fields.h"
#include "table/table.h"

namespace guardband::table {

/// The source and the standing of a row that is not a fact.
template <typename Row>
void read_origin(Fields& fields, const Table& table, Row& row) {
    row.source = fields.required_text("source");
    row.where = fields.optional_text("where");
    const auto standing = standing_named(fields.required_text("standing"));
    if (!standing) throw fields.error("standing", "is not a standing", "see the other files");
    row.standing = *standing;
    if (table.find_source(row.source) == nullptr)
        throw fields.error("source", "\"" + row.source + "\" is not listed in sources.toml",
                           "add a [[source]] with that id");
}

}  // namespace guardband::table
