#include "table/document.h"

#include <toml++/toml.h>

namespace guardband::table {
namespace {

int line_of(const toml::node& node) { return static_cast<int>(node.source().begin.line); }

Node converted(const toml::node& from);

Node::Array converted_array(const toml::array& from) {
    Node::Array array;
    array.reserve(from.size());
    for (const toml::node& element : from) array.push_back(converted(element));
    return array;
}

Node::Table converted_table(const toml::table& from) {
    Node::Table table;
    table.reserve(from.size());
    for (const auto& [key, child] : from) table.push_back({std::string(key.str()), converted(child)});
    return table;
}

Node converted(const toml::node& from) {
    Node to;
    to.line = line_of(from);
    if (const auto* text = from.as_string())
        to.value = text->get();
    else if (const auto* whole = from.as_integer())
        to.value = whole->get();
    else if (const auto* real = from.as_floating_point())
        to.value = real->get();
    else if (const auto* yes = from.as_boolean())
        to.value = yes->get();
    else if (const auto* array = from.as_array())
        to.value = converted_array(*array);
    else if (const auto* table = from.as_table())
        to.value = converted_table(*table);
    else
        to.value = std::string("a date");  // the schema has no dates: refused as an unexpected text where it stands
    return to;
}

}  // namespace

Document parse_document(std::string file, std::string_view text) {
    try {
        const toml::table root = toml::parse(text, std::string_view(file));
        Document document{std::move(file), {}};
        document.root.value = converted_table(root);
        return document;
    } catch (const toml::parse_error& e) {
        throw quantity::InputError(file + ":" + std::to_string(e.source().begin.line),
                                   "not valid TOML: " + std::string(e.description()));
    }
}

quantity::InputError error_at(const Document& document, int line, const std::string& key, const std::string& what,
                              const std::string& remedy) {
    const std::string place = document.file + ":" + std::to_string(line);
    return {key.empty() ? place : place + ": " + key, what, remedy};
}

}  // namespace guardband::table
