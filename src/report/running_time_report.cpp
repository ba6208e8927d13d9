#include "report/running_time_report.h"

#include <fmt/format.h>

#include <algorithm>

#include "report/figure_page.h"
#include "report/json.h"
#include "report/text_table.h"
#include "report/working_report.h"

namespace guardband::report {
namespace {

using calc::RunningTime;
using quantity::h_mm_ss;
using table::address_of;

constexpr std::size_t longest_list = 14;  // rows; more are read better as a table of grades by modes

std::string name_of(const RunningTime& row) { return row.grade == nullptr ? "bare length" : row.grade->id; }

std::string length_text(const RunningTime& row) { return fmt::format("{:.1f} m", row.length_m.value); }

/// @param whole  with length and speed, for which there is not always room
std::string list_text(const std::vector<RunningTime>& rows, bool whole) {
    using enum TextTable::Align;
    const bool has_grades = std::ranges::any_of(rows, [](const RunningTime& row) { return row.grade != nullptr; });
    const bool has_labels =
        std::ranges::any_of(rows, [](const RunningTime& row) { return bool(row.published_seconds); });
    std::vector<TextTable::Column> columns;
    if (has_grades) columns.push_back({"cassette", Left});
    columns.push_back({"recorded as", Left});
    if (whole) columns.insert(columns.end(), {{"length", Right}, {"mm/s", Right}});
    columns.insert(columns.end(), {{"runs", Right}, {"shortest", Right}, {"longest", Right}});
    if (has_labels) columns.push_back({"nominal", Right});
    TextTable table(columns);
    for (const RunningTime& row : rows) {
        std::vector<std::string> cells;
        if (has_grades) cells.push_back(name_of(row) + (row.crosses_systems() ? " *" : ""));
        cells.push_back(address_of(*row.format, *row.mode));
        if (whole) cells.insert(cells.end(), {length_text(row), fmt::format("{:.2f}", row.speed_mm_s.value)});
        cells.insert(cells.end(), {h_mm_ss(row.seconds.value), h_mm_ss(row.seconds.low), h_mm_ss(row.seconds.high)});
        if (has_labels) cells.push_back(row.published_seconds ? h_mm_ss(*row.published_seconds) : "-");
        table.add(std::move(cells));
    }
    return table.to_string();
}

/// One list, without length and speed where a page is too narrow for them.
std::string list_text(const std::vector<RunningTime>& rows) {
    std::string text = list_text(rows, true);
    return display_width(text.substr(0, text.find('\n'))) <= page_width ? text : list_text(rows, false);
}

using Rows = std::vector<const RunningTime*>;

/// Grades down and modes across. @param system  that of all rows, said once; empty: each mode says its own
TextTable grid(const Rows& rows, const std::string& system = "") {
    std::vector<const table::Mode*> modes;
    std::vector<const table::Grade*> grades;
    for (const RunningTime* row : rows) {
        if (std::ranges::find(modes, row->mode) == modes.end()) modes.push_back(row->mode);
        if (std::ranges::find(grades, row->grade) == grades.end()) grades.push_back(row->grade);
    }
    std::vector<TextTable::Column> columns{{system.empty() ? "cassette" : "in " + system, TextTable::Align::Left},
                                           {"length", TextTable::Align::Right}};
    for (const table::Mode* mode : modes)
        columns.push_back({(system.empty() ? mode->system + " " : "") + mode->id, TextTable::Align::Right});
    TextTable table(columns);
    for (const table::Grade* grade : grades) {
        std::vector<std::string> cells(columns.size());
        for (const RunningTime* row : rows) {
            if (row->grade != grade) continue;
            cells[0] = name_of(*row);
            cells[1] = length_text(*row);
            const auto column = std::ranges::find(modes, row->mode) - modes.begin() + 2;
            cells[static_cast<std::size_t>(column)] =
                h_mm_ss(row->seconds.value) + (row->crosses_systems() ? "*" : " ");
        }
        table.add(std::move(cells));
    }
    return table;
}

/// The rows of one format: one grid, or where that is wider than a page one for each system.
std::string grids_of_format(const Rows& rows) {
    std::string text = grid(rows).to_string();
    if (display_width(text.substr(0, text.find('\n'))) <= page_width) return text;
    std::vector<std::pair<std::string, Rows>> by_system;
    for (const RunningTime* row : rows) {
        auto part = std::ranges::find(by_system, row->mode->system, [](const auto& p) { return p.first; });
        if (part == by_system.end()) part = by_system.insert(part, {row->mode->system, {}});
        part->second.push_back(row);
    }
    std::string parts;
    for (const auto& [system, of_system] : by_system) parts += grid(of_system, system).to_string();
    return parts;
}

std::string grids_text(const std::vector<RunningTime>& rows) {
    std::string text;
    for (auto first = rows.begin(); first != rows.end();) {
        const auto last =
            std::find_if(first, rows.end(), [&](const RunningTime& row) { return row.format != first->format; });
        Rows of_format;
        for (auto row = first; row != last; ++row) of_format.push_back(&*row);
        text += (text.empty() ? "" : "\n") + first->format->name + "\n" + grids_of_format(of_format);
        first = last;
    }
    return text;
}

std::string preface_text(const RunningTimePreface& preface) {
    std::string filters;
    for (const std::string& filter : preface.filters) filters += (filters.empty() ? "" : ", ") + filter;
    return wrapped("Running times: " + (filters.empty() ? std::string("every format, cassette and mode") : filters),
                   page_width) +
           "\n\n";
}

std::string assumptions_text(const std::vector<RunningTime>& rows, bool is_list) {
    std::string text = "Assumed: the whole magnetic tape is played, leaders not counted.";
    text += is_list ? " Shortest and longest take the tolerances of length and speed at their worst; nominal is what "
                      "the label promises."
                    : " Name one cassette to see tolerances and nominal times.";
    if (std::ranges::any_of(rows, &RunningTime::crosses_systems))
        text += " * the label counts minutes of the other system; the tape runs at this machine's speed.";
    return "\n" + wrapped(text, page_width) + "\n";
}

Json row_json(const RunningTime& row) {
    Json json = {{"address", address_of(*row.format, *row.mode)},
                 {"grade", nullptr},
                 {"length_m", row.length_m.value},
                 {"tape_speed_mm_s", row.speed_mm_s.value},
                 {"seconds", row.seconds.value},
                 {"seconds_low", row.seconds.low},
                 {"seconds_high", row.seconds.high},
                 {"published_seconds", nullptr}};
    if (row.grade != nullptr) json["grade"] = row.grade->id;
    if (row.published_seconds) json["published_seconds"] = *row.published_seconds;
    return json;
}

}  // namespace

std::string running_times_text(const std::vector<RunningTime>& rows, const RunningTimePreface& preface,
                               const table::Table& table, bool explain) {
    if (rows.empty()) return preface_text(preface) + "Nothing in the table fits all of these.\n";
    const bool is_list = rows.size() <= longest_list;
    calc::Working working;
    if (explain)
        for (const RunningTime& row : rows) working.push_back(running_time_working(row).front());
    return preface_text(preface) + (is_list ? list_text(rows) : grids_text(rows)) + assumptions_text(rows, is_list) +
           working_text(working, table) + (explain ? "\n" : "") +
           wrapped(edition_text(table.edition) + ".", page_width) + "\n";
}

std::string running_times_csv(const std::vector<RunningTime>& rows) {
    TextTable table({{"address"},
                     {"grade"},
                     {"length_m"},
                     {"tape_speed_mm_s"},
                     {"seconds"},
                     {"seconds_low"},
                     {"seconds_high"},
                     {"published_seconds"}});
    using quantity::shortest;
    for (const RunningTime& row : rows)
        table.add({address_of(*row.format, *row.mode), row.grade == nullptr ? "" : row.grade->id,
                   shortest(row.length_m.value), shortest(row.speed_mm_s.value), shortest(row.seconds.value),
                   shortest(row.seconds.low), shortest(row.seconds.high),
                   row.published_seconds ? shortest(*row.published_seconds) : ""});
    return table.to_csv();
}

std::string running_times_json(const std::vector<RunningTime>& rows, const table::Edition& edition, bool explain) {
    Json list = Json::array();
    for (const RunningTime& row : rows) {
        list.push_back(row_json(row));
        if (explain) list.back()["working"] = working_json(running_time_working(row));
    }
    return to_text(Json{{"rows", list}, {"table_version", edition.version}});
}

}  // namespace guardband::report
