#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "table/fact_reader.h"

namespace guardband::table {

/// Puts an entry into a list: in place of the one of the same id, or at the end.
template <typename Entry>
void put(std::vector<Entry>& entries, Entry entry) {
    const auto same = std::ranges::find(entries, entry.id, &Entry::id);
    if (same == entries.end())
        entries.push_back(std::move(entry));
    else
        *same = std::move(entry);
}

/// Calls `read` with the fields of each table of `[[key]]` in turn.
template <typename Read>
void for_each_section(Fields& fields, const std::string& key, Read read) {
    const Node* list = fields.child(key);
    if (list == nullptr) return;
    if (list->as_array() == nullptr) throw fields.error(key, "is not a list of sections", "write [[" + key + "]]");
    for (const Node& element : *list->as_array()) {
        Fields section(fields.document(), element, "[[" + key + "]]");
        read(section);
    }
}

}  // namespace guardband::table
