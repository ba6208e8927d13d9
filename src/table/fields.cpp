#include "table/fields.h"

#include <algorithm>
#include <utility>

#include "table/suggestion.h"

namespace guardband::table {

Fields::Fields(const Document& document, const Node& node, std::string place)
    : document_(document), node_(node), place_(std::move(place)) {
    if (node.as_table() == nullptr) throw error_at(document, node.line, place_, "is not a table", "write { … }");
}

quantity::InputError Fields::error(const std::string& key, const std::string& what, const std::string& remedy) const {
    int line = node_.line;
    for (const auto& [name, child] : *node_.as_table())
        if (name == key) line = child.line;
    std::string path = place_;
    if (!key.empty()) path += (path.empty() ? "" : ".") + key;
    return error_at(document_, line, path, what, remedy);
}

const Node* Fields::find(const std::string& key) {
    asked_.push_back(key);
    for (const auto& [name, child] : *node_.as_table())
        if (name == key) return &child;
    return nullptr;
}

std::string Fields::optional_text(const std::string& key) {
    const Node* node = find(key);
    if (node == nullptr) return {};
    if (node->as_string() == nullptr) throw error(key, "is not a text", "put it in quotes");
    if (node->as_string()->empty()) throw error(key, "is empty", "fill it in or leave it out");
    return *node->as_string();
}

std::string Fields::required_text(const std::string& key) {
    std::string text = optional_text(key);
    if (text.empty()) throw error("", "has no " + key, "add " + key + " = \"…\"");
    return text;
}

std::vector<std::string> Fields::texts(const std::string& key) {
    const Node* node = find(key);
    if (node == nullptr) return {};
    if (node->as_array() == nullptr) throw error(key, "is not a list", "write [\"…\", \"…\"]");
    std::vector<std::string> result;
    for (const Node& element : *node->as_array()) {
        if (element.as_string() == nullptr) throw error(key, "holds something that is no text", "put each in quotes");
        result.push_back(*element.as_string());
    }
    return result;
}

const Node* Fields::child(const std::string& key) { return find(key); }

std::vector<std::pair<std::string, const Node*>> Fields::unread() const {
    std::vector<std::pair<std::string, const Node*>> rest;
    for (const auto& [name, child] : *node_.as_table())
        if (std::ranges::find(asked_, name) == asked_.end()) rest.emplace_back(name, &child);
    return rest;
}

void Fields::expect_no_more() const {
    const auto rest = unread();
    if (rest.empty()) return;
    throw error(rest.front().first, "is not a key of this section",
                did_you_mean(rest.front().first, asked_, "remove it"));
}

}  // namespace guardband::table
