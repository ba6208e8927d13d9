#include "table/systems_reader.h"

#include <array>
#include <charconv>
#include <chrono>
#include <string_view>
#include <vector>

#include "table/entries.h"
#include "table/origin.h"
#include "table/suggestion.h"

namespace guardband::table {
namespace {

void expect_one_of(const Fields& fields, const std::string& key, const std::string& given,
                   std::initializer_list<std::string_view> allowed) {
    if (std::ranges::find(allowed, given) != allowed.end()) return;
    std::string list;
    for (const std::string_view word : allowed) list += (list.empty() ? "" : ", ") + std::string(word);
    throw fields.error(key, "\"" + given + "\" is not one of the words for it", "use " + list);
}

/// The whole numbers of a text between its separators; nothing if a part is empty, longer than four digits or no
/// number.
std::vector<int> whole_numbers(std::string_view text, char separator) {
    std::vector<int> numbers;
    while (true) {
        const std::string_view part = text.substr(0, text.find(separator));
        int number = 0;
        const auto [end, error] = std::from_chars(part.data(), part.data() + part.size(), number);
        if (part.empty() || part.size() > 4 || error != std::errc() || end != part.data() + part.size() || number < 0)
            return {};
        numbers.push_back(number);
        if (part.size() == text.size()) return numbers;
        text.remove_prefix(part.size() + 1);
    }
}

/// Three whole numbers without leading noughts, as semver.org has them; the table needs no suffixes.
bool is_semantic_version(const std::string& text) {
    const std::vector<int> n = whole_numbers(text, '.');
    return n.size() == 3 && text == std::to_string(n[0]) + "." + std::to_string(n[1]) + "." + std::to_string(n[2]);
}

/// A day of the calendar, written as ISO 8601 has it.
bool is_date(const std::string& text) {
    const std::vector<int> n = whole_numbers(text, '-');
    if (n.size() != 3 || text.size() != std::string_view("2026-01-31").size() || text[4] != '-' || text[7] != '-')
        return false;
    return std::chrono::year_month_day(std::chrono::year(n[0]), std::chrono::month(static_cast<unsigned>(n[1])),
                                       std::chrono::day(static_cast<unsigned>(n[2])))
        .ok();
}

Source read_source(Fields& fields) {
    Source source;
    source.id = fields.required_text("id");
    source.title = fields.required_text("title");
    source.kind = fields.required_text("kind");
    source.seen = fields.required_text("seen");
    source.year = fields.optional_text("year");
    source.link = fields.optional_text("link");
    source.note = fields.optional_text("note");
    expect_one_of(fields, "kind", source.kind,
                  {"standard", "specification", "article", "book", "web page", "practice", "memory", "computed"});
    expect_one_of(fields, "seen", source.seen, {"read", "extract read", "contents only", "not seen"});
    fields.expect_no_more();
    return source;
}

/// Reads the facts of one entry and checks that none that must be there is missing.
template <typename Entry>
void read_facts(Fields& fields, Entry& entry, SectionKind section, const std::string& scanning, const Table& table) {
    entry.facts = FactReader(fields.document(), table).read_all(fields, section, scanning);
    expect_complete(fields.document(), fields.line(), std::string(to_string(section)) + " " + entry.id, entry.facts,
                    section);
}

std::string read_scanning_id(Fields& fields, const Table& table) {
    std::string id = fields.required_text("scanning");
    if (std::ranges::find(table.scannings, id, &Scanning::id) == table.scannings.end())
        throw fields.error("scanning", "no scanning standard \"" + id + "\"", "add a [[scanning]] with that id first");
    return id;
}

std::optional<Fact> read_limit_end(Fields& fields, const std::string& key, const std::string& unit) {
    const std::string text = fields.optional_text(key);
    if (text.empty()) return std::nullopt;
    Fact fact;
    fact.key = key;
    fact.printed = text;
    const quantity::Unit* known = quantity::find_unit(unit);
    if (known == nullptr) throw fields.error("unit", "\"" + unit + "\" is not known");
    fact.unit = known;
    fact.value = quantity::parse_quantity(text, *known, fields.error(key, "").input()).value;
    return fact;
}

Caution read_caution(Fields& fields, const Table& table) {
    Caution caution;
    caution.id = fields.required_text("id");
    caution.title = fields.required_text("title");
    caution.text = fields.required_text("text");
    read_origin(fields, table, caution);
    fields.expect_no_more();
    return caution;
}

LimitRule read_limit(Fields& fields, const Table& table) {
    LimitRule rule;
    rule.figure = fields.required_text("figure");
    rule.scanning = fields.optional_text("scanning");
    rule.format = fields.optional_text("format");
    rule.condition = fields.optional_text("condition");
    rule.unless = fields.optional_text("unless");
    rule.setting = fields.optional_text("setting");
    if (!rule.setting.empty() && std::ranges::find(limit_settings(), rule.setting) == limit_settings().end())
        throw fields.error("setting", "\"" + rule.setting + "\" is not known",
                           "write studio, transmission or recorder");
    const std::string unit = fields.optional_text("unit");
    rule.low = read_limit_end(fields, "low", unit);
    rule.high = read_limit_end(fields, "high", unit);
    if (const std::string text = fields.optional_text("text"); !text.empty()) rule.text = text;
    rule.equals_figure = fields.optional_text("equals_figure");
    read_origin(fields, table, rule);
    rule.note = fields.optional_text("note");
    if (!rule.low && !rule.high && !rule.text && rule.equals_figure.empty())
        throw fields.error("", "has no low, high, text or equals_figure", "say what the figure is held against");
    fields.expect_no_more();
    return rule;
}

}  // namespace

void read_edition(const Document& document, Table& table) {
    Fields root(document, document.root, "");
    const Node* node = root.child("table");
    if (node == nullptr) throw root.error("", "has no [table]", "begin it with [table] and a version");
    Fields fields(document, *node, "[table]");
    table.edition.version = fields.required_text("version");
    table.edition.changed = fields.required_text("changed");
    if (!is_semantic_version(table.edition.version))
        throw fields.error("version", "\"" + table.edition.version + "\" is no semantic version",
                           "write three whole numbers: 1.2.0");
    if (!is_date(table.edition.changed))
        throw fields.error("changed", "\"" + table.edition.changed + "\" is no date",
                           "write year, month and day: 2026-11-25");
    fields.expect_no_more();
    root.expect_no_more();
}

void read_sources(const Document& document, Table& table) {
    Fields root(document, document.root, "");
    for_each_section(root, "source", [&](Fields& fields) { put(table.sources, read_source(fields)); });
    root.expect_no_more();
}

void read_systems(const Document& document, Table& table) {
    Fields root(document, document.root, "");
    for_each_section(root, "scanning", [&](Fields& fields) {
        Scanning entry{fields.required_text("id"), fields.required_text("name"), fields.texts("aliases"), {}};
        read_facts(fields, entry, SectionKind::Scanning, "", table);
        for (const std::string_view key : {"lines", "field_rate", "line_rate"})
            if (const Fact* fact = entry.facts.known(key); fact == nullptr || !fact->exact)
                throw fields.error(std::string(key), "must be exact", R"(write it as exact = "…")");
        put(table.scannings, std::move(entry));
    });
    for_each_section(root, "raster", [&](Fields& fields) {
        Raster entry{fields.required_text("id"), read_scanning_id(fields, table), {}};
        read_facts(fields, entry, SectionKind::Raster, entry.scanning, table);
        put(table.rasters, std::move(entry));
    });
    for_each_section(root, "colour", [&](Fields& fields) {
        Colour entry{fields.required_text("id"),
                     fields.required_text("name"),
                     read_scanning_id(fields, table),
                     fields.texts("aliases"),
                     {}};
        read_facts(fields, entry, SectionKind::Colour, entry.scanning, table);
        put(table.colours, std::move(entry));
    });
    for_each_section(root, "transmission", [&](Fields& fields) {
        Transmission entry{fields.required_text("id"), fields.required_text("name"), read_scanning_id(fields, table),
                           fields.texts("aliases"),    fields.texts("colour"),       {}};
        read_facts(fields, entry, SectionKind::Transmission, entry.scanning, table);
        put(table.transmissions, std::move(entry));
    });
    for_each_section(root, "screen", [&](Fields& fields) {
        Screen entry{fields.required_text("id"), fields.required_text("name"), {}};
        read_facts(fields, entry, SectionKind::Screen, "", table);
        put(table.screens, std::move(entry));
    });
    root.expect_no_more();
}

void read_cautions(const Document& document, Table& table) {
    Fields root(document, document.root, "");
    for_each_section(root, "caution", [&](Fields& fields) { put(table.cautions, read_caution(fields, table)); });
    root.expect_no_more();
}

void read_limits(const Document& document, Table& table) {
    Fields root(document, document.root, "");
    for_each_section(root, "limit", [&](Fields& fields) { table.limits.push_back(read_limit(fields, table)); });
    root.expect_no_more();
}

}  // namespace guardband::table
