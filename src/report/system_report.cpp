#include "report/system_report.h"

#include <fmt/format.h>

#include "report/figure_page_text.h"
#include "report/format_page.h"
#include "report/json.h"
#include "report/text_table.h"

namespace guardband::report {
namespace {

using table::Colour;
using table::Fact;
using table::Scanning;
using table::Transmission;

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
    TextTable rows({{"id", Left},
                    {"scanning standard", Left},
                    {"also called", Left},
                    {"lines", Right},
                    {"fields/s", Right},
                    {"line rate Hz", Right}});
    for (const Scanning& s : table.scannings)
        rows.add({s.id, s.name, joined(s.aliases), shown(s.facts, "lines", "", 0),
                  shown(s.facts, "field_rate", "Hz", 3), shown(s.facts, "line_rate", "Hz", 3)});
    return rows;
}

constexpr std::size_t widest_name = 22;  // of colour systems: with the other columns a terminal of 100

TextTable colour_table(const table::Table& table) {
    using enum TextTable::Align;
    TextTable rows({{"id", Left},
                    {"colour system", Left},
                    {"also called", Left},
                    {"scanning", Left},
                    {"subcarrier Hz", Right},
                    {"set-up IRE", Right}});
    for (const Colour& c : table.colours) {
        const std::string carrier =
            c.facts.known("subcarrier") != nullptr
                ? shown(c.facts, "subcarrier", "Hz", 2)
                : shown(c.facts, "subcarrier_red", "Hz", 0) + " / " + shown(c.facts, "subcarrier_blue", "Hz", 0);
        rows.add_wrapped(
            {c.id, c.name, joined(c.aliases), c.scanning, carrier, shown(c.facts, "setup_level", "IRE", 1)},
            widest_name);
    }
    return rows;
}

TextTable transmission_table(const table::Table& table) {
    using enum TextTable::Align;
    TextTable rows({{"id", Left},
                    {"transmission", Left},
                    {"scanning", Left},
                    {"colour", Left},
                    {"channel MHz", Right},
                    {"vision MHz", Right},
                    {"sound MHz", Right},
                    {"vision", Left}});
    for (const Transmission& t : table.transmissions)
        rows.add({t.id, t.name, t.scanning, joined(t.colours), shown(t.facts, "channel_width", "MHz", 1),
                  shown(t.facts, "vision_bandwidth", "MHz", 1), shown(t.facts, "sound_offset", "MHz", 4),
                  text_of(t.facts, "vision_modulation")});
    return rows;
}

TextTable screen_table(const table::Table& table) {
    using enum TextTable::Align;
    TextTable rows({{"id", Left}, {"screen or lamp", Left}, {"Hz", Right}});
    for (const table::Screen& screen : table.screens)
        rows.add({screen.id, screen.name, shown(screen.facts, "refresh_rate", "Hz", 3)});
    return rows;
}

Json screens_json(const table::Table& table) {
    Json list = Json::array();
    for (const table::Screen& screen : table.screens)
        list.push_back({{"id", screen.id}, {"name", screen.name}, {"figures", to_json(screen.facts)}});
    return list;
}

Json limit_json(const table::LimitRule& limit) {
    Json json = {{"figure", limit.figure}};
    const auto add = [&](const char* key, const std::string& text) {
        if (!text.empty()) json[key] = text;
    };
    add("scanning", limit.scanning), add("format", limit.format), add("condition", limit.condition),
        add("unless", limit.unless), add("setting", limit.setting), add("equals_figure", limit.equals_figure);
    if (limit.text) json["text"] = *limit.text;
    for (const auto& [key, end] : {std::pair{"low", &limit.low}, std::pair{"high", &limit.high}})
        if (*end) json[key] = {{"value", *(*end)->value}, {"printed", (*end)->printed}, {"unit", (*end)->unit->name}};
    json["source"] = limit.source;
    add("where", limit.where);
    json["standing"] = to_string(limit.standing);
    add("note", limit.note);
    return json;
}

Json limits_json(const table::Table& table) {
    Json list = Json::array();
    for (const table::LimitRule& limit : table.limits) list.push_back(limit_json(limit));
    return list;
}

Json head_json(const char* kind, const std::string& id, const std::string& name,
               const std::vector<std::string>& aliases) {
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
    return scanning_table(table).to_string() + "\n" + colour_table(table).to_string() + "\n" +
           transmission_table(table).to_string() + "\n" + screen_table(table).to_string() + "\n" +
           edition_text(table.edition) + ".\n";
}

std::string systems_list_csv(const table::Table& table) {
    TextTable rows({{"kind"}, {"id"}, {"name"}, {"scanning"}, {"also called"}});
    for (const Scanning& s : table.scannings) rows.add({"scanning", s.id, s.name, s.id, joined(s.aliases)});
    for (const Colour& c : table.colours) rows.add({"colour", c.id, c.name, c.scanning, joined(c.aliases)});
    for (const Transmission& t : table.transmissions)
        rows.add({"transmission", t.id, t.name, t.scanning, joined(t.aliases)});
    return rows.to_csv();
}

std::string system_page_text(const table::Table& table, const System& system) {
    return figure_page_text(system_page(table, system), table.edition);
}

std::string systems_json(const table::Table& table, const std::vector<System>& systems) {
    Json list = Json::array();
    for (const System& system : systems)
        list.push_back(std::visit([&](const auto* s) { return json_of(table, *s); }, system));
    Json json{{"systems", list}};
    if (systems.size() > 1) {
        json["screens"] = screens_json(table);
        json["limits"] = limits_json(table);
    }
    return to_text(with_edition(std::move(json), table));
}

}  // namespace guardband::report
