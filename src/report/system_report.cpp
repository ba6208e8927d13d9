#include "report/system_report.h"

#include <fmt/format.h>

#include "report/fact_text.h"
#include "report/json.h"
#include "report/text_table.h"

namespace guardband::report {
namespace {

using table::Colour;
using table::Fact;
using table::Scanning;
using table::SectionKind;
using table::Transmission;

std::string joined(const std::vector<std::string>& parts) {
    std::string text;
    for (const std::string& part : parts) text += (text.empty() ? "" : ", ") + part;
    return text;
}

std::string shown(const table::Facts& facts, std::string_view key, std::string_view unit, int decimals) {
    const Fact* fact = facts.known(key);
    return fact == nullptr ? "-" : fmt::format("{:.{}f}", fact->in(unit), decimals);
}

std::string text_of(const table::Facts& facts, std::string_view key) {
    const Fact* fact = facts.known(key);
    return fact == nullptr ? "-" : fact->printed;
}

TextTable scanning_table(const table::Table& table) {
    using enum TextTable::Align;
    TextTable rows({{"id", Left}, {"scanning standard", Left}, {"also called", Left}, {"lines", Right}, {"fields/s", Right}, {"line rate Hz", Right}});
    for (const Scanning& s : table.scannings)
        rows.add({s.id, s.name, joined(s.aliases), shown(s.facts, "lines", "", 0), shown(s.facts, "field_rate", "Hz", 3), shown(s.facts, "line_rate", "Hz", 3)});
    return rows;
}

TextTable colour_table(const table::Table& table) {
    using enum TextTable::Align;
    TextTable rows({{"id", Left}, {"colour system", Left}, {"also called", Left}, {"scanning", Left}, {"subcarrier Hz", Right}, {"set-up IRE", Right}});
    for (const Colour& c : table.colours) {
        const std::string carrier = c.facts.known("subcarrier") != nullptr
                                        ? shown(c.facts, "subcarrier", "Hz", 2)
                                        : shown(c.facts, "subcarrier_red", "Hz", 0) + " / " + shown(c.facts, "subcarrier_blue", "Hz", 0);
        rows.add({c.id, c.name, joined(c.aliases), c.scanning, carrier, shown(c.facts, "setup_level", "IRE", 1)});
    }
    return rows;
}

TextTable transmission_table(const table::Table& table) {
    using enum TextTable::Align;
    TextTable rows({{"id", Left}, {"transmission", Left}, {"scanning", Left}, {"colour", Left}, {"channel MHz", Right}, {"vision MHz", Right}, {"sound MHz", Right}, {"vision", Left}});
    for (const Transmission& t : table.transmissions)
        rows.add({t.id, t.name, t.scanning, joined(t.colours), shown(t.facts, "channel_width", "MHz", 1), shown(t.facts, "vision_bandwidth", "MHz", 1), shown(t.facts, "sound_offset", "MHz", 4), text_of(t.facts, "vision_modulation")});
    return rows;
}

struct Page {
    std::string heading, aliases;
    const table::Facts* facts;
    SectionKind section;
};

Page page_of(const Scanning& s) { return {"Scanning standard " + s.name, joined(s.aliases), &s.facts, SectionKind::Scanning}; }
Page page_of(const Colour& c) { return {"Colour system " + c.name + " on " + c.scanning, joined(c.aliases), &c.facts, SectionKind::Colour}; }
Page page_of(const Transmission& t) {
    return {"Transmission system " + t.name + " on " + t.scanning, joined(t.aliases), &t.facts, SectionKind::Transmission};
}

void add_rows(std::string& page, const std::string& heading, const table::Facts& facts, SectionKind section, SourceNotes& notes) {
    TextTable rows = fact_table();
    add_fact_rows(rows, facts, section, notes);
    page += "\n" + heading + "\n" + rows.to_string("  ");
}

/// The rasters, colour and transmission systems of a scanning standard.
void add_dependants(std::string& page, const table::Table& table, const Scanning& scanning, SourceNotes& notes) {
    for (const table::Raster& raster : table.rasters)
        if (raster.scanning == scanning.id) add_rows(page, "Digital raster " + raster.id, raster.facts, SectionKind::Raster, notes);
    std::vector<std::string> colours, transmissions;
    for (const Colour& c : table.colours)
        if (c.scanning == scanning.id) colours.push_back(c.id);
    for (const Transmission& t : table.transmissions)
        if (t.scanning == scanning.id) transmissions.push_back(t.id);
    page += "\nColour systems: " + joined(colours) + "\nTransmission systems: " + joined(transmissions) + "\n";
}

Json head_json(const char* kind, const std::string& id, const std::string& name, const std::vector<std::string>& aliases) {
    return {{"kind", kind}, {"id", id}, {"name", name}, {"aliases", aliases}};
}

Json json_of(const table::Table& table, const Scanning& s) {
    Json json = head_json("scanning", s.id, s.name, s.aliases);
    json["figures"] = to_json(s.facts);
    json["rasters"] = Json::array();
    for (const table::Raster& raster : table.rasters)
        if (raster.scanning == s.id) json["rasters"].push_back({{"id", raster.id}, {"figures", to_json(raster.facts)}});
    return json;
}

Json json_of(const table::Table&, const Colour& c) {
    Json json = head_json("colour", c.id, c.name, c.aliases);
    json["scanning"] = c.scanning;
    json["figures"] = to_json(c.facts);
    return json;
}

Json json_of(const table::Table&, const Transmission& t) {
    Json json = head_json("transmission", t.id, t.name, t.aliases);
    json["scanning"] = t.scanning;
    json["colours"] = t.colours;
    json["figures"] = to_json(t.facts);
    return json;
}

}  // namespace

std::string systems_list_text(const table::Table& table) {
    return scanning_table(table).to_string() + "\n" + colour_table(table).to_string() + "\n" + transmission_table(table).to_string();
}

std::string systems_list_csv(const table::Table& table) {
    TextTable rows({{"kind"}, {"id"}, {"name"}, {"scanning"}, {"also called"}});
    for (const Scanning& s : table.scannings) rows.add({"scanning", s.id, s.name, s.id, joined(s.aliases)});
    for (const Colour& c : table.colours) rows.add({"colour", c.id, c.name, c.scanning, joined(c.aliases)});
    for (const Transmission& t : table.transmissions) rows.add({"transmission", t.id, t.name, t.scanning, joined(t.aliases)});
    return rows.to_csv();
}

std::string system_page_text(const table::Table& table, const System& system) {
    SourceNotes notes(table);
    const Page page = std::visit([](const auto* s) { return page_of(*s); }, system);
    std::string text = page.heading + (page.aliases.empty() ? "" : " (also called " + page.aliases + ")") + "\n";
    add_rows(text, "Figures", *page.facts, page.section, notes);
    if (const auto* const* scanning = std::get_if<const Scanning*>(&system)) add_dependants(text, table, **scanning, notes);
    if (const std::string sources = notes.list_text(); !sources.empty()) text += "\nSources\n" + sources;
    return text;
}

std::string systems_json(const table::Table& table, const std::vector<System>& systems) {
    Json list = Json::array();
    for (const System& system : systems) list.push_back(std::visit([&](const auto* s) { return json_of(table, *s); }, system));
    return to_text(Json{{"systems", list}});
}

}  // namespace guardband::report
