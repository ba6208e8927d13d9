#include "testsignal/section.h"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <algorithm>
#include <limits>

#include "table/suggestion.h"

namespace guardband::testsignal {

using quantity::InputError;
using quantity::Rational;
using table::Node;

namespace {

/// A recipe's exact numbers name nothing.
class NoNames final : public quantity::Names {
public:
    Rational value(std::string_view name) const override { throw InputError(std::string(name), "is not a number"); }
};

}  // namespace

Section::Section(const table::Document& document, const Node& node, std::string name)
    : document_(&document), node_(&node), entries_(node.as_table()), name_(std::move(name)) {
    if (!entries_)
        throw table::error_at(document, node.line, name_, "must be a table",
                              fmt::format("write [{}] and its keys below", name_));
}

const Node* Section::find(std::string_view key) const {
    for (const auto& [name, node] : *entries_)
        if (name == key) return &node;
    return nullptr;
}

const Node* Section::take(std::string_view key) {
    known_.emplace_back(key);
    return find(key);
}

std::string Section::dotted(std::string_view key) const {
    return name_.empty() ? std::string(key) : fmt::format("{}.{}", name_, key);
}

int Section::line_of(std::string_view key) const {
    const Node* node = find(key);
    return std::max(1, node ? node->line : node_->line);  // a file as such begins on line 1
}

void Section::fail(std::string_view key, const std::string& what, const std::string& remedy) const {
    throw table::error_at(*document_, line_of(key), dotted(key), what, remedy);
}

void Section::fail_choice(std::string_view key, const std::string& word, const std::vector<std::string>& names) const {
    fail(key, fmt::format("\"{}\" is not known", word),
         table::did_you_mean(word, names, fmt::format("give one of: {}", fmt::join(names, ", "))));
}

double Section::number(std::string_view key, const Node& node) const {
    if (const auto* value = std::get_if<double>(&node.value)) return *value;
    if (const auto* value = std::get_if<std::int64_t>(&node.value)) return static_cast<double>(*value);
    fail(key, "must be a number", "write it without quotes");
}

std::int64_t Section::whole(std::string_view key, const Node& node) const {
    if (const auto* value = std::get_if<std::int64_t>(&node.value)) return *value;
    fail(key, "must be a whole number", "write it without quotes and without a point");
}

const Node::Array& Section::list(std::string_view key, const Node& node) const {
    if (const auto* array = node.as_array()) return *array;
    fail(key, "must be a list", "write it in square brackets");
}

void Section::read(std::string_view key, double& out) {
    if (const Node* node = take(key)) out = number(key, *node);
}

void Section::read(std::string_view key, std::optional<double>& out) {
    if (const Node* node = take(key)) out = number(key, *node);
}

void Section::read_rate(std::string_view key, Rational& out) {
    std::string text;
    read(key, text);
    if (!has(key)) return;
    try {
        out = quantity::evaluate(text, NoNames{});
    } catch (const InputError&) {
        fail(key, fmt::format("\"{}\" is not a ratio", text), "write it as \"25\" or \"30000/1001\"");
    }
}

bool Section::is_text(std::string_view key) const {
    const Node* node = find(key);
    return node && node->as_string();
}

void Section::read_rate(std::string_view key, double& out) {
    if (!is_text(key)) return read(key, out);
    Rational exact;
    read_rate(key, exact);
    out = exact.value();
}

void Section::read(std::string_view key, bool& out) {
    const Node* node = take(key);
    if (!node) return;
    const auto* value = std::get_if<bool>(&node->value);
    if (!value) fail(key, "must be true or false", "write it without quotes");
    out = *value;
}

void Section::read(std::string_view key, std::string& out) {
    const Node* node = take(key);
    if (!node) return;
    const auto* value = node->as_string();
    if (!value) fail(key, "must be a text", "write it in quotes");
    out = *value;
}

void Section::read(std::string_view key, std::uint64_t& out) {
    const Node* node = take(key);
    if (!node) return;
    const std::int64_t value = whole(key, *node);
    if (value < 0) fail(key, fmt::format("{} is negative", value), "give 0 or more");
    out = static_cast<std::uint64_t>(value);
}

void Section::read(std::string_view key, int& out) {
    const Node* node = take(key);
    if (!node) return;
    const std::int64_t value = whole(key, *node);
    if (value < std::numeric_limits<int>::min() || value > std::numeric_limits<int>::max())
        fail(key, fmt::format("{} is out of range", value), "");
    out = static_cast<int>(value);
}

void Section::read(std::string_view key, std::vector<double>& out) {
    const Node* node = take(key);
    if (!node) return;
    out.clear();
    for (const Node& item : list(key, *node)) out.push_back(number(key, item));
}

void Section::read(std::string_view key, std::vector<std::int64_t>& out) {
    const Node* node = take(key);
    if (!node) return;
    out.clear();
    for (const Node& item : list(key, *node)) out.push_back(whole(key, item));
}

void Section::read(std::string_view key, std::vector<int>& out) {
    std::vector<std::int64_t> wide;
    read(key, wide);
    if (!has(key)) return;
    out.clear();
    for (const std::int64_t value : wide) {
        if (value < 0 || value > 1000) fail(key, fmt::format("{} is out of range", value), "give 0 to 1000");
        out.push_back(static_cast<int>(value));
    }
}

std::optional<Section> Section::inner(std::string_view key) {
    const Node* node = take(key);
    if (!node) return std::nullopt;
    return Section(*document_, *node, dotted(key));
}

void Section::expect_no_more() const {
    for (const auto& [key, node] : *entries_)
        if (std::ranges::find(known_, key) == known_.end())
            fail(key, "is not a key of a recipe",
                 table::did_you_mean(key, known_, fmt::format("known here: {}", fmt::join(known_, ", "))));
}

}  // namespace guardband::testsignal
