#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "quantity/rational.h"
#include "table/document.h"

namespace guardband::testsignal {

/// One table of a recipe file while it is read. Each reader leaves its target alone when the key is absent, notes the
/// key as known, and throws InputError `file:line: key` when the value is of the wrong kind.
class Section {
public:
    /// @param name  dotted name in front of the keys; empty for the file's top level
    Section(const table::Document& document, const table::Node& node, std::string name = {});

    void read(std::string_view key, double& out);
    void read(std::string_view key, std::optional<double>& out);
    /// A number, or a text with an exact ratio: `60`, `"60000/1001"`.
    void read_rate(std::string_view key, double& out);
    void read_rate(std::string_view key, quantity::Rational& out);
    void read(std::string_view key, bool& out);
    void read(std::string_view key, std::string& out);
    void read(std::string_view key, std::uint64_t& out);
    void read(std::string_view key, int& out);
    void read(std::string_view key, std::vector<double>& out);
    void read(std::string_view key, std::vector<std::int64_t>& out);
    void read(std::string_view key, std::vector<int>& out);

    /// One of a few words. @returns nothing if the key is absent
    template <typename T>
    std::optional<T> choice(std::string_view key, const std::vector<std::pair<std::string, T>>& words) {
        std::string word;
        read(key, word);
        if (!has(key)) return std::nullopt;
        std::vector<std::string> names;
        for (const auto& [name, value] : words) {
            if (name == word) return value;
            names.push_back(name);
        }
        fail_choice(key, word, names);
    }

    /// A table inside this one, or nothing.
    std::optional<Section> inner(std::string_view key);
    bool has(std::string_view key) const { return find(key) != nullptr; }
    bool is_text(std::string_view key) const;

    /// To be called when all keys have been asked for. @throws InputError at the first key that was not
    void expect_no_more() const;

    /// Line of a key of this section, or of the section.
    int line_of(std::string_view key) const;
    [[noreturn]] void fail(std::string_view key, const std::string& what, const std::string& remedy) const;

private:
    const table::Node* find(std::string_view key) const;
    const table::Node* take(std::string_view key);
    std::string dotted(std::string_view key) const;
    double number(std::string_view key, const table::Node& node) const;
    std::int64_t whole(std::string_view key, const table::Node& node) const;
    const table::Node::Array& list(std::string_view key, const table::Node& node) const;
    [[noreturn]] void fail_choice(std::string_view key, const std::string& word,
                                  const std::vector<std::string>& names) const;

    const table::Document* document_;
    const table::Node* node_;
    const table::Node::Table* entries_;
    std::string name_;
    std::vector<std::string> known_;
};

}  // namespace guardband::testsignal
