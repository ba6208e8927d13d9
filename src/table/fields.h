#pragma once

#include <string>
#include <utility>
#include <vector>

#include "table/document.h"

namespace guardband::table {

/// A table of a document that is being read, key by key; what was not asked for at the end is an error.
class Fields {
public:
    Fields(const Document& document, const Node& node, std::string place);

    int line() const { return node_.line; }
    const std::string& place() const { return place_; }
    const Document& document() const { return document_; }

    /// A text that must be there. @throws InputError if it is missing, empty or no text
    std::string required_text(const std::string& key);
    std::string optional_text(const std::string& key);
    /// A list of texts; empty if absent.
    std::vector<std::string> texts(const std::string& key);
    /// The sub-table or array at a key; nullptr if absent.
    const Node* child(const std::string& key);
    /// Keys that nobody has asked for yet.
    std::vector<std::pair<std::string, const Node*>> unread() const;
    /// @throws InputError at the first key that nobody has asked for
    void expect_no_more() const;

    quantity::InputError error(const std::string& key, const std::string& what, const std::string& remedy = {}) const;

private:
    const Node* find(const std::string& key);

    const Document& document_;
    const Node& node_;
    std::string place_;
    std::vector<std::string> asked_;
};

}  // namespace guardband::table
