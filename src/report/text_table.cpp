#include "report/text_table.h"

#include <algorithm>

namespace guardband::report {
namespace {

bool starts_code_point(char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }

std::string csv_cell(const std::string& text) {
    if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
    std::string quoted = "\"";
    for (const char c : text) quoted += c == '"' ? "\"\"" : std::string(1, c);
    return quoted + "\"";
}

void drop_trailing_blanks(std::string& line) { line.erase(line.find_last_not_of(' ') + 1); }

}  // namespace

std::size_t display_width(std::string_view text) {
    return static_cast<std::size_t>(std::ranges::count_if(text, starts_code_point));
}

std::string padded(std::string_view text, std::size_t width, bool right_aligned) {
    const std::size_t used = display_width(text);
    const std::string blanks(width > used ? width - used : 0, ' ');
    return right_aligned ? blanks + std::string(text) : std::string(text) + blanks;
}

std::string wrapped(std::string_view text, std::size_t width, std::size_t indent) {
    std::string result;
    std::size_t column = indent;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find(' '), text.size());
        const std::string_view word = text.substr(0, end);
        text.remove_prefix(std::min(end + 1, text.size()));
        if (word.empty()) continue;
        const std::size_t needed = display_width(word);
        if (column > indent && column + 1 + needed > width) {
            result += "\n" + std::string(indent, ' ');
            column = indent;
        } else if (column > indent) {
            result += ' ';
            ++column;
        }
        result += word;
        column += needed;
    }
    return result;
}

void TextTable::add_wrapped(const std::vector<std::string>& cells, std::size_t widest) {
    std::vector<std::string> rest;
    for (const std::string& cell : cells) rest.push_back(wrapped(cell, widest));
    while (!std::ranges::all_of(rest, &std::string::empty)) {
        std::vector<std::string> line;
        for (std::string& cell : rest) {
            const std::size_t end = std::min(cell.find('\n'), cell.size());
            line.push_back(cell.substr(0, end));
            cell.erase(0, end + 1);
        }
        add(std::move(line));
    }
}

std::vector<std::size_t> TextTable::widths() const {
    std::vector<std::size_t> widths;
    for (const Column& column : columns_) widths.push_back(display_width(column.heading));
    for (const Row& row : rows_)
        for (std::size_t i = 0; i < row.cells.size(); ++i) widths[i] = std::max(widths[i], display_width(row.cells[i]));
    return widths;
}

std::string TextTable::to_string(std::string_view indent) const {
    const std::vector<std::size_t> width = widths();
    std::string text;
    const auto add_cells = [&](const std::vector<std::string>& cells) {
        std::string line(indent);
        for (std::size_t i = 0; i < cells.size(); ++i)
            line += (i == 0 ? "" : "  ") + padded(cells[i], width[i], columns_[i].align == Align::Right);
        drop_trailing_blanks(line);
        text += line + "\n";
    };
    std::vector<std::string> headings;
    for (const Column& column : columns_) headings.push_back(column.heading);
    if (!std::ranges::all_of(headings, &std::string::empty)) add_cells(headings);
    for (const Row& row : rows_) {
        if (row.line)
            text += *row.line + "\n";
        else
            add_cells(row.cells);
    }
    return text;
}

std::string TextTable::to_csv() const {
    std::string text;
    for (std::size_t i = 0; i < columns_.size(); ++i) text += (i == 0 ? "" : ",") + csv_cell(columns_[i].heading);
    text += "\n";
    for (const Row& row : rows_) {
        if (row.line) continue;
        for (std::size_t i = 0; i < columns_.size(); ++i)
            text += (i == 0 ? "" : ",") + (i < row.cells.size() ? csv_cell(row.cells[i]) : "");
        text += "\n";
    }
    return text;
}

}  // namespace guardband::report
