#include "guardband/inventory_file.h"

#include <algorithm>
#include <charconv>
#include <fstream>
#include <map>

#include "quantity/errors.h"

namespace guardband::command_line {
namespace {

using quantity::InputError;
using Row = std::vector<std::string>;

constexpr std::size_t longest_line = 100'000;  // bytes; no inventory has longer ones, other files do
constexpr std::int64_t most_tapes_alike = 1'000'000;

std::string trimmed(const std::string& text) {
    const std::size_t first = text.find_first_not_of(" \t\r"), last = text.find_last_not_of(" \t\r");
    return first == std::string::npos ? "" : text.substr(first, last - first + 1);
}

/// The cells of one line; a quote in a quoted cell is written twice.
Row cells_of(const std::string& line, const std::string& place) {
    Row cells(1);
    bool quoted = false;
    for (std::size_t i = 0; i < line.size(); ++i) {
        const char c = line[i];
        if (c == '"' && quoted && i + 1 < line.size() && line[i + 1] == '"')
            cells.back() += line[++i];
        else if (c == '"')
            quoted = !quoted;
        else if (c == ',' && !quoted)
            cells.emplace_back();
        else
            cells.back() += c;
    }
    if (quoted) throw InputError(place, "has a quote that does not end", "close it on the same line");
    std::ranges::transform(cells, cells.begin(), trimmed);
    return cells;
}

/// Where the columns are that we know.
using Columns = std::map<std::string, std::size_t>;

Columns columns_of(const Row& heading, const std::string& path) {
    Columns columns;
    for (std::size_t i = 0; i < heading.size(); ++i) columns.emplace(heading[i], i);
    if (!columns.contains("address") || !(columns.contains("grade") || columns.contains("minutes")))
        throw InputError(path, "is no inventory: its first line names no columns address and grade or minutes",
                         "begin it with a line like: address,grade,count");
    return columns;
}

std::string cell(const Row& row, const Columns& columns, const std::string& name) {
    const auto column = columns.find(name);
    return column == columns.end() || column->second >= row.size() ? "" : row[column->second];
}

std::int64_t count_of(const std::string& text, const std::string& place) {
    if (text.empty()) return 1;
    std::int64_t count = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), count);
    if (error != std::errc() || end != text.data() + text.size() || count < 1 || count > most_tapes_alike)
        throw InputError(place, "count \"" + text + "\" is no number of tapes", "give 1 to 1000000");
    return count;
}

std::optional<calc::Bounded> seconds_of(const std::string& text, const std::string& place) {
    if (text.empty()) return std::nullopt;
    const auto time = quantity::parse_quantity(text, quantity::unit_named("min"), place + ": minutes");
    const double spread = time.uncertainty_in(quantity::unit_named("s")).value_or(0), seconds = time.in("s");
    if (seconds - spread < 0) throw InputError(place, "minutes are below 0", "give 0 or more");
    return calc::Bounded{seconds, seconds - spread, seconds + spread};
}

calc::InventoryLine line_of(const Row& row, const Columns& columns, const std::string& place) {
    calc::InventoryLine line;
    line.place = place;
    line.address = cell(row, columns, "address");
    line.grade = cell(row, columns, "grade");
    line.seconds = seconds_of(cell(row, columns, "minutes"), place);
    line.count = count_of(cell(row, columns, "count"), place);
    if (line.address.empty())
        throw InputError(place, "has no address", "give FORMAT:SYSTEM:MODE, such as vhs:625/50:SP");
    if (line.grade.empty() && !line.seconds)
        throw InputError(place, "has neither grade nor minutes", "give the cassette's label, such as E-180");
    return line;
}

}  // namespace

std::vector<calc::InventoryLine> read_inventory(const std::string& path) {
    std::ifstream file(path, std::ios::binary);
    if (!file) throw InputError(path, "can't be read", "check the path");
    std::vector<calc::InventoryLine> lines;
    std::optional<Columns> columns;
    std::string text;
    for (std::size_t number = 1; std::getline(file, text); ++number) {
        const std::string place = path + ":" + std::to_string(number);
        if (text.size() > longest_line)
            throw InputError(place, "is too long a line for an inventory", "name a file of comma-separated values");
        if (number == 1 && text.starts_with("\xEF\xBB\xBF")) text.erase(0, 3);  // spreadsheets put it there
        if (trimmed(text).empty()) continue;
        const Row row = cells_of(text, place);
        if (columns)
            lines.push_back(line_of(row, *columns, place));
        else
            columns = columns_of(row, path);
    }
    if (lines.empty())
        throw InputError(path, "lists no tape", "give a heading line, then a line for each kind of tape");
    return lines;
}

}  // namespace guardband::command_line
