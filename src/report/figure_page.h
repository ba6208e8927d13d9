#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "report/page_notes.h"
#include "table/table.h"

namespace guardband::report {

/// A page of figures free of any medium: what stands where, and what stands behind it. The terminal and the browser
/// show the same page.

/// One value with its marks.
struct Entry {
    std::string label;  ///< for which system or mode it holds, where a cell gathers several; else empty
    std::string text;
    std::vector<Mark> marks;
};

/// What a column says in one row; no entry: nothing is known.
using Cell = std::vector<Entry>;

/// How the values of one row compare.
enum class Relation : std::uint8_t {
    NotCompared,
    Same,
    Near,  ///< the same within the rounding of the printed digits
    Differ,
    Partly,  ///< known for some of them only
};

struct Row {
    std::string title;
    std::string
        unit;  ///< of all cells, where they have it in common and the columns are several; printed after the title
    std::vector<Cell> cells;
    Relation relation = Relation::NotCompared;
};

struct Column {
    std::string over;        ///< what several neighbouring columns have in common: `525/60`
    std::string name;        ///< `SP`
    bool is_number = false;  ///< digits stand under each other at their right end
};

/// Rows that have their columns in common.
struct Block {
    std::vector<Column> columns;
    std::vector<Row> rows;
};

struct Group {
    std::string title;
    std::vector<Block> blocks;
    std::string remark;  ///< one line below, or empty
};

struct FigurePage {
    std::string title;
    std::vector<std::string> introduction;  ///< one paragraph each
    std::vector<Group> groups;
    std::vector<std::string> unknowns;  ///< `shell height, wrap (no source gives it)`
    std::vector<std::string> remarks;   ///< by letter
    std::vector<PageNotes::CitedSource> sources;
    std::vector<PageNotes::LetterMeaning> standings;
};

/// Gathers figures that are not known, by the reason that the table gives.
class Unknowns {
public:
    void add(const std::string& reason, const std::string& figure);
    /// `shell height, wrap (no source gives it)`, one a reason, in the order in which they came.
    std::vector<std::string> lines() const;

private:
    struct ByReason {
        std::string reason;
        std::vector<std::string> figures;
    };
    std::vector<ByReason> reasons_;
};

/// One fact in each column of a row that is to be laid out; nullptr where the table has none.
struct FactRow {
    std::string title;
    std::vector<const table::Fact*> facts;
};

/// Makes rows of facts, citing as it goes, so that notes are numbered in the order of the page.
class FigurePageWriter {
public:
    FigurePageWriter(const table::Table& table, std::string title) : notes_(table) { page_.title = std::move(title); }

    FigurePage& page() { return page_; }
    PageNotes& notes() { return notes_; }
    Unknowns& unknowns() { return unknowns_; }

    /// A row of the known facts, appended to `block`; nothing if none is known.
    void add_row(Block& block, const FactRow& row);
    /// The page with its notes.
    FigurePage finish() &&;

private:
    FigurePage page_;
    PageNotes notes_;
    Unknowns unknowns_;
};

/// The unit that all known numbers of the list are shown in, or empty if there is none.
std::string common_unit(const std::vector<const table::Fact*>& facts);

/// `Table 0.1.0 of 2026-11-25`, and which folders were read on top of it.
std::string edition_text(const table::Edition& edition);

}  // namespace guardband::report
