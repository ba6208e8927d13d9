#pragma once

#include <string>
#include <vector>

#include "report/text_table.h"
#include "table/schema.h"
#include "table/table.h"

namespace guardband::report {

/// A fact's value for people: `23.39 ± 0.12 mm/s`, `IEC 60774-1`, `unknown: …`.
std::string value_text(const table::Fact& fact);

/// Numbers the sources in the order in which a page cites them.
class SourceNotes {
public:
    explicit SourceNotes(const table::Table& table) : table_(table) {}

    /// `[3]`, and for the lesser standings a word: `[3] from memory`.
    std::string cite(const table::Fact& fact);
    /// The list of the sources cited, one a line, wrapped.
    std::string list_text() const;

private:
    const table::Table& table_;
    std::vector<std::string> ids_;
};

/// Adds a row per fact of a section, in the schema's order: title, value, source; then what other sources say, and notes.
void add_fact_rows(TextTable& rows, const table::Facts& facts, table::SectionKind section, SourceNotes& notes);

/// The headings of such a table.
TextTable fact_table();

}  // namespace guardband::report
