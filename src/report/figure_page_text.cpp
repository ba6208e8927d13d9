#include "report/figure_page_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>

#include "report/fact_text.h"
#include "report/text_table.h"

namespace guardband::report {
namespace {

constexpr std::size_t widest_title = 27;
constexpr std::size_t widest_cell_of_two = 34, widest_cell_of_many = 22;  // numbers fit, texts and expressions wrap
constexpr std::size_t indent = 2, gap = 2;

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> lines;
    for (std::size_t from = 0; from <= text.size();) {
        const std::size_t end = std::min(text.find('\n', from), text.size());
        lines.push_back(text.substr(from, end - from));
        from = end + 1;
    }
    return lines;
}

/// Each line of the text wrapped to a width; what follows stands two blanks in where `hang` says so.
std::vector<std::string> wrapped_lines(const std::string& text, std::size_t width) {
    std::vector<std::string> lines;
    for (const std::string& line : lines_of(text))
        for (std::string& part : lines_of(wrapped(line, width))) lines.push_back(std::move(part));
    return lines;
}

std::size_t widest(const std::vector<std::string>& lines) {
    std::size_t width = 0;
    for (const std::string& line : lines) width = std::max(width, display_width(line));
    return width;
}

std::string title_of(const Row& row) {
    if (row.unit.empty()) return row.title;
    return row.title + (row.unit == "°" ? ", degrees" : ", " + row.unit);
}

std::string_view relation_mark(Relation relation) {
    switch (relation) {
        case Relation::Differ:
            return "≠ ";
        case Relation::Near:
            return "≈ ";
        case Relation::Partly:
            return "? ";
        case Relation::Same:
        case Relation::NotCompared:
            break;
    }
    return "  ";
}

std::string shown_cell(const Row& row, std::size_t column) { return cell_text(row.cells[column]); }

/// Lays out one block in the width that the titles leave.
class BlockText {
public:
    BlockText(const Block& block, std::size_t title_width, bool is_compared)
        : block_(block), title_width_(title_width), left_(indent + (is_compared ? 2 : 0)), is_compared_(is_compared) {}

    std::string whole() {
        std::vector<std::size_t> all(block_.columns.size());
        std::iota(all.begin(), all.end(), 0);
        if (all.size() == 1) return rows_text(all, {available()});
        if (fits(all)) return headed(all, "");
        std::string text;
        for (const auto& [over, columns] : by_over(all)) text += split_until_it_fits(columns, over);
        return text;
    }

private:
    std::size_t available() const { return wide_page_width - left_ - title_width_ - gap; }

    std::size_t natural_width(std::size_t column) const {
        std::size_t width = display_width(block_.columns[column].name);
        const std::size_t widest_cell = block_.columns.size() > 2 ? widest_cell_of_many : widest_cell_of_two;
        for (const Row& row : block_.rows)
            width = std::max(width, widest(wrapped_lines(shown_cell(row, column), widest_cell)));
        return width;
    }

    std::vector<std::size_t> natural_widths(const std::vector<std::size_t>& columns) const {
        std::vector<std::size_t> widths;
        for (const std::size_t column : columns) widths.push_back(natural_width(column));
        return widths;
    }

    bool fits(const std::vector<std::size_t>& columns) const {
        const auto widths = natural_widths(columns);
        return std::accumulate(widths.begin(), widths.end(), gap * (widths.size() - 1)) <= available();
    }

    /// Runs of columns that have their upper heading in common.
    std::vector<std::pair<std::string, std::vector<std::size_t>>> by_over(
        const std::vector<std::size_t>& columns) const {
        std::vector<std::pair<std::string, std::vector<std::size_t>>> runs;
        for (const std::size_t column : columns) {
            const std::string& over = block_.columns[column].over;
            if (runs.empty() || runs.back().first != over) runs.push_back({over, {}});
            runs.back().second.push_back(column);
        }
        return runs;
    }

    std::string split_until_it_fits(const std::vector<std::size_t>& columns, const std::string& over) {
        if (columns.size() == 1 || fits(columns)) return headed(columns, over);
        std::size_t count = columns.size() - 1;
        while (count > 1 && !fits({columns.begin(), columns.begin() + static_cast<std::ptrdiff_t>(count)})) --count;
        const std::size_t pieces = (columns.size() + count - 1) / count;
        count = (columns.size() + pieces - 1) / pieces;  // 3 and 2 rather than 4 and 1
        const auto middle = columns.begin() + static_cast<std::ptrdiff_t>(count);
        return headed({columns.begin(), middle}, over) + split_until_it_fits({middle, columns.end()}, over);
    }

    /// Headings, then rows. Several upper headings stand over their columns, one that all have in common over the
    /// titles.
    std::string headed(const std::vector<std::size_t>& columns, const std::string& over) {
        std::vector<std::size_t> widths = natural_widths(columns);
        const auto runs = by_over(columns);
        std::string text;
        if (over.empty() && !(runs.size() == 1 && runs.front().first.empty())) text += over_line(runs, widths);
        std::string line = std::string(left_, ' ') + padded(over.empty() ? "" : "on " + over, title_width_);
        for (std::size_t i = 0; i < columns.size(); ++i) {
            const Column& column = block_.columns[columns[i]];
            line += std::string(gap, ' ') + padded(column.name, widths[i], column.is_number);
        }
        return text + trimmed(line) + rows_text(columns, widths);
    }

    std::string over_line(const std::vector<std::pair<std::string, std::vector<std::size_t>>>& runs,
                          std::vector<std::size_t>& widths) const {
        std::string line = std::string(left_, ' ') + std::string(title_width_, ' ');
        std::size_t at = 0;
        for (const auto& [over, columns] : runs) {
            std::size_t width = gap * (columns.size() - 1);
            for (std::size_t i = 0; i < columns.size(); ++i) width += widths[at + i];
            const std::size_t missing = std::max(width, display_width(over)) - width;
            widths[at + columns.size() - 1] += missing;  // the last column of a run makes room for its upper heading
            at += columns.size();
            line += std::string(gap, ' ') + padded(over, width + missing);
        }
        return trimmed(line);
    }

    static std::string trimmed(std::string line) {
        line.erase(line.find_last_not_of(' ') + 1);
        return line + "\n";
    }

    std::string rows_text(const std::vector<std::size_t>& columns, const std::vector<std::size_t>& widths) const {
        std::string text;
        for (const Row& row : block_.rows) {
            std::vector<std::vector<std::string>> cells{wrapped_lines(title_of(row), title_width_)};
            for (std::size_t i = 0; i < columns.size(); ++i)
                cells.push_back(wrapped_lines(shown_cell(row, columns[i]), widths[i]));
            const std::size_t height = std::ranges::max(cells, {}, &std::vector<std::string>::size).size();
            for (std::size_t at = 0; at < height; ++at) text += line_text(row, cells, at, columns, widths);
        }
        return text;
    }

    std::string line_text(const Row& row, const std::vector<std::vector<std::string>>& cells, std::size_t at,
                          const std::vector<std::size_t>& columns, const std::vector<std::size_t>& widths) const {
        const auto part = [&](std::size_t cell) { return at < cells[cell].size() ? cells[cell][at] : std::string(); };
        std::string line(indent, ' ');
        if (is_compared_) line += at == 0 ? std::string(relation_mark(row.relation)) : "  ";
        line += padded(part(0), title_width_);
        for (std::size_t i = 0; i < columns.size(); ++i)
            line += std::string(gap, ' ') + padded(part(i + 1), widths[i], block_.columns[columns[i]].is_number);
        return trimmed(line);
    }

    const Block& block_;
    std::size_t title_width_, left_;
    bool is_compared_;
};

bool is_compared(const Group& group) {
    return std::ranges::any_of(group.blocks, [](const Block& block) {
        return std::ranges::any_of(block.rows, [](const Row& row) { return row.relation != Relation::NotCompared; });
    });
}

std::size_t title_width(const Group& group) {
    std::size_t width = 0;
    for (const Block& block : group.blocks)
        for (const Row& row : block.rows) width = std::max(width, widest(wrapped_lines(title_of(row), widest_title)));
    return width;
}

std::string paragraph(const std::string& text, std::size_t hanging = 0) {
    return wrapped(text, wide_page_width, hanging) + "\n";
}

constexpr std::size_t label_width = 6;

/// A label, then a text that hangs beside it.
std::string labelled(const std::string& label, const std::string& text, std::size_t width) {
    return padded(label, label_width, true) + " " + wrapped(text, width, label_width + 1) + "\n";
}

std::string source_text(const PageNotes::CitedSource& cited, std::size_t number) {
    const std::string place = cited.where.empty() ? "" : ": " + cited.where;
    if (cited.first != number)
        return fmt::format("as [{}]{}", cited.first, place.empty() ? ", place not noted" : place);
    const table::Source& source = *cited.source;
    return source.title +
           (source.year.empty() || source.title.find(source.year) != std::string::npos ? "" : ", " + source.year) +
           place + " (" + source.seen + ")";
}

std::string page_notes_text(const FigurePage& page) {
    std::string text;
    if (!page.unknowns.empty())
        text += "\n" + paragraph("Not known: " + fmt::format("{}", fmt::join(page.unknowns, "; ")) + ".");
    return text + notes_text({page.remarks, page.sources, page.standings}, wide_page_width);
}

std::string with_plain_blanks(std::string text) {
    for (std::size_t at = text.find(no_break); at != std::string::npos; at = text.find(no_break, at))
        text.replace(at, no_break.size(), " ");
    return text;
}

}  // namespace

std::string notes_text(const Notes& notes, std::size_t width) {
    std::string text;
    if (!notes.remarks.empty()) text += "\nRemarks\n";
    for (std::size_t i = 0; i < notes.remarks.size(); ++i)
        text += labelled("(" + remark_letter(i) + ")", notes.remarks[i], width);
    if (!notes.sources.empty() || !notes.standings.empty()) text += "\nSources\n";
    for (std::size_t i = 0; i < notes.sources.size(); ++i)
        text += labelled(fmt::format("[{}]", i + 1), source_text(notes.sources[i], i + 1), width);
    for (const auto& [label, meaning] : notes.standings) text += labelled("[" + label + "]", meaning, width);
    return text;
}

std::string cell_text(const Cell& cell) {
    if (cell.empty()) return "–";
    std::string text;
    for (const Entry& entry : cell) {
        text += (text.empty() ? "" : "\n") + (entry.label.empty() ? "" : entry.label + ": ") + entry.text;
        if (!entry.marks.empty()) text += std::string(no_break);
        for (const Mark& mark : entry.marks) text += to_string(mark);
    }
    return text;
}

std::string figure_page_text(const FigurePage& page, const table::Edition& edition) {
    std::string text = paragraph(page.title);
    for (const std::string& line : page.introduction) text += paragraph(line);
    for (const Group& group : page.groups) {
        text += "\n" + group.title + "\n";
        for (const Block& block : group.blocks)
            text += BlockText(block, title_width(group), is_compared(group)).whole();
        if (!group.remark.empty()) text += std::string(indent, ' ') + paragraph(group.remark, indent);
    }
    return with_plain_blanks(text + page_notes_text(page) + "\n" + paragraph(edition_text(edition) + "."));
}

}  // namespace guardband::report
