#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "quantity/errors.h"

namespace guardband::table {

struct Entry;

/// A value of a TOML document with the line it stands on, freed from the parser's own types.
struct Node {
    using Array = std::vector<Node>;
    using Table = std::vector<Entry>;

    std::variant<std::string, std::int64_t, double, bool, Array, Table> value;
    int line = 0;

    const std::string* as_string() const { return std::get_if<std::string>(&value); }
    const Array* as_array() const { return std::get_if<Array>(&value); }
    const Table* as_table() const { return std::get_if<Table>(&value); }
};

/// A key of a table and what stands behind it.
struct Entry {
    std::string key;
    Node value;
};

/// A parsed TOML file: its name, as errors show it, and its top-level table.
struct Document {
    std::string file;
    Node root;
};

/// @throws InputError `file:line: …` if `text` is not TOML
Document parse_document(std::string file, std::string_view text);

/// An error at one key of a document, as `file:line: key`.
quantity::InputError error_at(const Document& document, int line, const std::string& key, const std::string& what,
                              const std::string& remedy = {});

}  // namespace guardband::table
