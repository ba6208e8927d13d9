#pragma once

#include <string>

#include "table/document.h"
#include "table/fact.h"
#include "table/fields.h"
#include "table/schema.h"
#include "table/table.h"

namespace guardband::table {

/// Reads facts against the schema.
class FactReader {
public:
    /// @param table  for the sources and, in exact expressions, the scanning standards; must outlive the reader
    FactReader(const Document& document, const Table& table) : document_(document), table_(table) {}

    /// Reads every key of `fields` that is not read yet as a fact of `section`.
    /// @param scanning  id of the scanning standard whose `lines`, `field_rate`, `line_rate` exact expressions may
    /// name; may be empty
    Facts read_all(Fields& fields, SectionKind section, const std::string& scanning) const;

    /// Reads one fact. @param rule  what the schema demands of it
    Fact read(const Node& node, const KeyRule& rule, const quantity::Names& names) const;

private:
    const Document& document_;
    const Table& table_;
};

/// @throws InputError at `line` if a required key of the section is not among the facts
void expect_complete(const Document& document, int line, const std::string& place, const Facts& facts,
                     SectionKind section);

}  // namespace guardband::table
