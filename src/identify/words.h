#pragma once

#include <array>
#include <string>
#include <string_view>
#include <vector>

#include "identify/kinds.h"

namespace guardband::identify {

/// The everyday words for colour: what a monitor shows.
inline constexpr std::array<std::string_view, 4> colour_words{"NTSC", "PAL", "SECAM", "none"};

/// The word as the table writes it. @throws InputError if the kind knows no such word
std::string checked_word(const table::Table& table, Kind kind, const std::string& word, const std::string& input);

/// A label free of what people write in different ways: letters large, nothing but letters, digits and, for what can't
/// be read, ? (one character) and * (any number).
std::string plain_label(std::string_view text);

/// True if a label's text, or a few words of it next to each other, can be this name. Both plain; `?` and `*` in the
/// text stand for what can't be read.
bool label_matches(const std::vector<std::string>& words, std::string_view name);

/// The plain words of a label's text.
std::vector<std::string> label_words(std::string_view text);

/// Every grade's label in the table, plain, each once and in order: what a torn label is one of.
std::vector<std::string> all_labels(const table::Table& table);

/// The ids of all shells in the table, each once and in order.
std::vector<std::string> all_shells(const table::Table& table);

}  // namespace guardband::identify
