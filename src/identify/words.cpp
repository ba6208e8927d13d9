#include "identify/words.h"

#include <algorithm>
#include <array>
#include <cctype>

#include "quantity/errors.h"
#include "table/suggestion.h"

namespace guardband::identify {
namespace {

using quantity::InputError;

std::string listed(const std::vector<std::string>& words) {
    std::string text;
    for (const std::string& word : words) text += (text.empty() ? "" : ", ") + word;
    return text;
}

std::string same_word(const std::vector<std::string>& known, const std::string& word, const std::string& input,
                      const std::string& what, const std::string& otherwise) {
    for (const std::string& candidate : known)
        if (table::same_name(candidate, word)) return candidate;
    throw InputError(input, "no " + what + " \"" + word + "\"", table::did_you_mean(word, known, otherwise));
}

void sort_once(std::vector<std::string>& words) {
    std::ranges::sort(words);
    words.erase(std::unique(words.begin(), words.end()), words.end());
}

/// The longest text that is compared with a label: more is no label, and would make the search for * slow.
constexpr std::size_t longest_label = 80;

bool matches(std::string_view pattern, std::string_view name) {
    if (pattern.empty()) return name.empty();
    if (pattern.front() == '*') {
        while (!pattern.empty() && pattern.front() == '*') pattern.remove_prefix(1);
        for (std::size_t skip = 0; skip <= name.size(); ++skip)
            if (matches(pattern, name.substr(skip))) return true;
        return false;
    }
    return !name.empty() && (pattern.front() == '?' || pattern.front() == name.front()) &&
           matches(pattern.substr(1), name.substr(1));
}

}  // namespace

std::string checked_word(const table::Table& table, Kind kind, const std::string& word, const std::string& input) {
    if (kind == Kind::Shell)
        return same_word(all_shells(table), word, input, "shell", "known are " + listed(all_shells(table)));
    if (kind == Kind::Colour)
        return same_word({colour_words.begin(), colour_words.end()}, word, input, "colour system",
                         "known are NTSC, PAL, SECAM and none");
    const std::string plain = plain_label(word);
    if (std::ranges::none_of(plain, [](unsigned char c) { return std::isalnum(c) != 0; }))
        throw InputError(input, "\"" + word + "\" holds nothing to read", "give the print on the label, such as E-180");
    if (word.size() > longest_label)
        throw InputError(input, "is too long for a grade's label",
                         "give the letters and the number alone, such as E-180");
    return word;
}

std::string plain_label(std::string_view text) {
    std::string plain;
    for (const char c : text) {
        const auto byte = static_cast<unsigned char>(c);
        if (std::isalnum(byte) != 0 || c == '?' || (c == '*' && !plain.ends_with('*')))
            plain += static_cast<char>(std::toupper(byte));
    }
    return plain;
}

std::vector<std::string> label_words(std::string_view text) {
    std::vector<std::string> words;
    while (!text.empty()) {
        const std::string_view word = text.substr(0, text.find(' '));
        if (const std::string plain = plain_label(word); !plain.empty()) words.push_back(plain);
        text.remove_prefix(std::min(text.size(), word.size() + 1));
    }
    return words;
}

bool label_matches(const std::vector<std::string>& words, std::string_view name) {
    constexpr std::size_t most_words = 4;  // `MiniDV 60`; no grade has more than three
    for (std::size_t first = 0; first < words.size(); ++first) {
        std::string run;
        for (std::size_t last = first; last < std::min(words.size(), first + most_words); ++last) {
            run += words[last];
            if (matches(run, name)) return true;
        }
    }
    return false;
}

std::vector<std::string> all_labels(const table::Table& table) {
    std::vector<std::string> labels;
    for (const table::TapeFormat& format : table.formats)
        for (const table::Grade& grade : format.grades) labels.push_back(plain_label(grade.id));
    sort_once(labels);
    return labels;
}

std::vector<std::string> all_shells(const table::Table& table) {
    std::vector<std::string> shells;
    for (const table::TapeFormat& format : table.formats)
        for (const table::Shell& shell : format.shells) shells.push_back(shell.id);
    sort_once(shells);
    return shells;
}

}  // namespace guardband::identify
