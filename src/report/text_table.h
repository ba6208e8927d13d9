#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guardband::report {

/// Columns of what commands print: of an answer, and of the pages and lists that a wide terminal shows.
inline constexpr std::size_t page_width = 80, wide_page_width = 100;

/// Columns on a terminal that a UTF-8 text takes, one per code point that is not a combining mark. Good for the letters
/// and signs that we print.
std::size_t display_width(std::string_view text);

/// The text, padded with blanks to a width: on the right, or on the left for `right_aligned`.
std::string padded(std::string_view text, std::size_t width, bool right_aligned = false);

/// The text broken at blanks into lines that end before column `width`. It starts at column `indent`, where something
/// else stands before it, and so do the lines after the first.
std::string wrapped(std::string_view text, std::size_t width, std::size_t indent = 0);

/// A table of texts with a heading row, columns as wide as their widest cell and two blanks apart.
class TextTable {
public:
    enum class Align { Left, Right };
    struct Column {
        std::string heading;
        Align align = Align::Left;
    };

    explicit TextTable(std::vector<Column> columns) : columns_(std::move(columns)) {}
    /// @param cells  at most one per column; missing ones are empty
    void add(std::vector<std::string> cells) { rows_.push_back({std::move(cells), {}}); }
    /// A row whose cells are broken at blanks into lines of a bounded width, the further lines below the first.
    void add_wrapped(const std::vector<std::string>& cells, std::size_t widest);
    /// A line across all columns, such as the heading of a group; not part of the comma-separated values.
    void add_line(std::string text) { rows_.push_back({{}, std::move(text)}); }
    bool is_empty() const { return rows_.empty(); }
    /// All lines, each ending with a newline and free of trailing blanks. No heading row if all headings are empty.
    std::string to_string(std::string_view indent = "") const;
    /// As comma-separated values (RFC 4180), headings first.
    std::string to_csv() const;

private:
    struct Row {
        std::vector<std::string> cells;
        std::optional<std::string> line;
    };
    std::vector<std::size_t> widths() const;

    std::vector<Column> columns_;
    std::vector<Row> rows_;
};

}  // namespace guardband::report
