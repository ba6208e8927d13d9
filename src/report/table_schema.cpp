#include "report/table_schema.h"

#include <fmt/format.h>

#include "quantity/unit.h"
#include "table/fact.h"
#include "table/schema.h"

namespace guardband::report {
namespace {

using table::KeyRule;
using table::SectionKind;

/// Text that is not empty.
Json text() { return {{"type", "string"}, {"minLength", 1}}; }
Json texts() { return {{"type", "array"}, {"items", {{"type", "string"}}}}; }
Json reference(const std::string& name) { return {{"$ref", "#/$defs/" + name}}; }

/// A number as the reader takes it: digits, a range of them, or digits ± digits.
constexpr const char* number =
    R"(^\s*-?[0-9]*\.?[0-9]+([eE][+-]?[0-9]+)?\s*((–|-)\s*[0-9]*\.?[0-9]+\s*)?((±|\+-|\+/-)\s*[0-9]*\.?[0-9]+\s*%?\s*)?$)";
constexpr const char* whole_number = R"(^\s*-?[0-9]+(\.0*)?\s*$)";
constexpr const char* expression = R"(^[0-9a-z_+*/().\s-]+$)";

Json units_like(std::string_view unit) {
    Json names = Json::array();
    for (const quantity::Unit& known : quantity::all_units())
        if (known.dimension == quantity::unit_named(unit).dimension && !known.name.empty()) names.push_back(known.name);
    return {{"enum", names}};
}

Json standings() {
    Json names = Json::array();
    for (int i = 0; i < 5; ++i) names.push_back(to_string(static_cast<table::Standing>(i)));
    return {{"enum", names}};
}

/// `tape.width`: the name of a key's definition, free of signs that a reference would have to escape.
std::string fact_name(const KeyRule& rule) {
    std::string section(to_string(rule.section));
    std::erase_if(section, [](char c) { return c == '[' || c == ']'; });
    return fmt::format("{}.{}", section, rule.key);
}

/// A fact of one key. What must be there depends on what it gives: a number its unit, any value its source and
/// standing, an unknown nothing.
Json fact(const KeyRule& rule) {
    const bool is_text = rule.kind == KeyRule::Kind::Text;
    Json properties = {{"unknown", text()}, {"note", text()},          {"why", text()},   {"source", text()},
                       {"where", text()},   {"standing", standings()}, {"from", texts()}, {"disagrees", text()}};
    properties["also"] = {{"type", "array"}, {"items", reference(fact_name(rule))}};
    Json json = {{"title", rule.title}, {"type", "object"}, {"additionalProperties", false}};
    Json value_names = Json::array({"unknown"});
    if (is_text) {
        properties["text"] = text();
        value_names.push_back("text");
    } else {
        properties["printed"] = {{"type", "string"},
                                 {"pattern", rule.kind == KeyRule::Kind::Count ? whole_number : number}};
        properties["exact"] = {{"type", "string"}, {"pattern", expression}};
        for (const char* key : {"tolerance", "low", "high"}) properties[key] = text();
        if (!rule.unit.empty()) properties["unit"] = units_like(rule.unit);
        value_names.push_back("printed"), value_names.push_back("exact");
        json["description"] =
            fmt::format("between {} and {}{}{}", rule.low, rule.high, rule.unit.empty() ? "" : " ", rule.unit);
    }
    json["properties"] = properties;
    Json one_of = Json::array();
    for (const Json& name : value_names) one_of.push_back({{"required", {name}}});
    json["oneOf"] = one_of;
    Json needed = Json::array({"source", "standing"});
    if (!is_text && !rule.unit.empty()) needed.push_back("unit");
    Json unknown_allows = {{"unknown", true}, {"note", true}, {"why", true}, {"also", true}};
    json["dependentSchemas"]["from"]["properties"]["standing"]["const"] = to_string(table::Standing::Computed);
    json["if"] = {{"required", {"unknown"}}};
    json["then"] = {{"properties", unknown_allows}, {"additionalProperties", false}};
    json["else"] = {{"required", needed}};
    return json;
}

/// A section: what names it, then the facts that it may hold. Which of those must be there is said where the section
/// stands.
Json section(SectionKind kind, Json own, const std::vector<std::string>& required) {
    for (const KeyRule& rule : table::key_rules())
        if (table::find_rule(kind, rule.key) == &rule) own[std::string(rule.key)] = reference(fact_name(rule));
    Json json = {{"type", "object"}, {"properties", std::move(own)}, {"additionalProperties", false}};
    if (!required.empty()) json["required"] = required;
    return json;
}

Json required_facts(SectionKind kind) {
    Json keys = Json::array();
    for (const KeyRule& rule : table::key_rules())
        if (rule.section == kind && rule.required) keys.push_back(rule.key);
    return {{"required", keys}};
}

Json both(Json a, Json b) { return {{"allOf", {std::move(a), std::move(b)}}}; }
Json list_of(Json items) { return {{"type", "array"}, {"items", std::move(items)}}; }
Json file(Json properties, const std::vector<std::string>& required) {
    return {{"type", "object"},
            {"properties", std::move(properties)},
            {"additionalProperties", false},
            {"required", required}};
}

Json playing_time() {
    const KeyRule rule{SectionKind::Grade, "playing_time", KeyRule::Kind::Number, "min", 0.5, 2000, false,
                       "playing time"};
    Json json = fact(rule);
    json["properties"]["mode"] = {{"type", "string"}, {"pattern", "^[^:]+:[^:]+$"}};
    json["properties"]["also"] = list_of(reference("grade.playing_time.also"));
    json["required"] = {"mode"};
    json["then"]["properties"]["mode"] = true;
    return json;
}

Json format_file() {
    Json heading = {{"id", text()},       {"name", text()},   {"family", text()},     {"based_on", text()},
                    {"aliases", texts()}, {"plays", texts()}, {"grades_of", texts()}, {"without_modes", texts()}};
    Json properties = {
        {"format", section(SectionKind::Format, heading, {"id", "name"})},
        {"tape", section(SectionKind::Tape, Json::object(), {})},
        {"drum", section(SectionKind::Drum, Json::object(), {})},
        {"shell", list_of(section(SectionKind::Shell, {{"id", text()}, {"name", text()}}, {"id", "name"}))},
        {"system", list_of(section(SectionKind::System, {{"id", text()}}, {"id"}))},
        {"mode", list_of(section(
                     SectionKind::Mode,
                     {{"system", text()}, {"id", {{"type", "string"}, {"pattern", "^[^:]+$"}}}, {"aliases", texts()}},
                     {"system", "id"}))},
        {"grade", list_of(both(section(SectionKind::Grade,
                                       {{"id", text()},
                                        {"aliases", texts()},
                                        {"shell", text()},
                                        {"label_system", text()},
                                        {"playing_time", list_of(playing_time())}},
                                       {"id"}),
                               required_facts(SectionKind::Grade)))}};
    Json json = file(properties, {"format"});
    // A format based on another takes from it what it does not give itself; any other is complete.
    json["if"] = {{"properties", {{"format", {{"required", {"based_on"}}}}}}};
    json["then"] = true;
    json["else"] = {{"required", {"tape", "drum", "system", "mode"}},
                    {"properties",
                     {{"format", required_facts(SectionKind::Format)},
                      {"tape", required_facts(SectionKind::Tape)},
                      {"drum", required_facts(SectionKind::Drum)},
                      {"shell", list_of(required_facts(SectionKind::Shell))},
                      {"system", list_of(required_facts(SectionKind::System))},
                      {"mode", list_of(required_facts(SectionKind::Mode))}}}};
    return json;
}

Json systems_file() {
    const auto entries = [](SectionKind kind, Json own, const std::vector<std::string>& required) {
        return list_of(both(section(kind, std::move(own), required), required_facts(kind)));
    };
    Json properties = {
        {"scanning",
         entries(SectionKind::Scanning, {{"id", text()}, {"name", text()}, {"aliases", texts()}}, {"id", "name"})},
        {"raster", entries(SectionKind::Raster, {{"id", text()}, {"scanning", text()}}, {"id", "scanning"})},
        {"colour",
         entries(SectionKind::Colour, {{"id", text()}, {"name", text()}, {"scanning", text()}, {"aliases", texts()}},
                 {"id", "name", "scanning"})},
        {"transmission",
         entries(SectionKind::Transmission,
                 {{"id", text()}, {"name", text()}, {"scanning", text()}, {"aliases", texts()}, {"colour", texts()}},
                 {"id", "name", "scanning"})},
        {"screen", entries(SectionKind::Screen, {{"id", text()}, {"name", text()}}, {"id", "name"})}};
    return file(properties, {});
}

Json sources_file() {
    Json source = {{"type", "object"}, {"additionalProperties", false}, {"required", {"id", "title", "kind", "seen"}}};
    source["properties"] = {
        {"id", text()},
        {"title", text()},
        {"year", text()},
        {"link", text()},
        {"note", text()},
        {"kind",
         {{"enum", {"standard", "specification", "article", "book", "web page", "practice", "memory", "computed"}}}},
        {"seen", {{"enum", {"read", "extract read", "contents only", "not seen"}}}}};
    return file({{"source", list_of(source)}}, {"source"});
}

Json limits_file() {
    Json limit = {{"type", "object"}, {"additionalProperties", false}, {"required", {"figure", "source", "standing"}}};
    for (const char* key : {"figure", "scanning", "format", "condition", "unless", "unit", "low", "high", "text",
                            "equals_figure", "source", "where", "note"})
        limit["properties"][key] = text();
    limit["properties"]["setting"] = {{"enum", table::limit_settings()}};
    limit["properties"]["standing"] = standings();
    limit["anyOf"] = Json::array();
    for (const char* key : {"low", "high", "text", "equals_figure"}) limit["anyOf"].push_back({{"required", {key}}});
    return file({{"limit", list_of(limit)}}, {"limit"});
}

Json cautions_file() {
    Json caution = {{"type", "object"},
                    {"additionalProperties", false},
                    {"required", {"id", "title", "text", "source", "standing"}}};
    for (const char* key : {"id", "title", "text", "source", "where"}) caution["properties"][key] = text();
    caution["properties"]["standing"] = standings();
    return file({{"caution", list_of(caution)}}, {"caution"});
}

Json codecs_file() {
    const auto entries = [](SectionKind kind, Json own, const std::vector<std::string>& required) {
        return list_of(both(section(kind, std::move(own), required), required_facts(kind)));
    };
    Json own = {{"id", text()},
                {"name", text()},
                {"aliases", texts()},
                {"coding", {{"enum", {"uncompressed", "constant rate", "lossless", "lossy"}}}},
                {"system", entries(SectionKind::CodecSystem, {{"id", text()}}, {"id"})},
                {"picture", entries(SectionKind::CodecPicture, {{"id", text()}}, {"id"})}};
    return file({{"codec", entries(SectionKind::Codec, std::move(own), {"id", "name", "coding"})},
                 {"container", entries(SectionKind::Container, {{"id", text()}, {"name", text()}, {"aliases", texts()}},
                                       {"id", "name"})}},
                {"codec"});
}

Json evidence_file() {
    Json own = Json::object();
    for (const char* key : {"id", "title", "measures", "how", "needs", "source", "where"}) own[key] = text();
    own["machine"] = {{"enum", {"yes", "no"}}};
    own["standing"] = standings();
    Json kind = both(section(SectionKind::Evidence, std::move(own),
                             {"id", "title", "measures", "how", "needs", "machine", "source", "standing"}),
                     required_facts(SectionKind::Evidence));
    Json region = {{"type", "object"},
                   {"additionalProperties", false},
                   {"required", {"id", "name", "systems", "colours", "source", "standing"}}};
    for (const char* key : {"id", "name", "source", "where"}) region["properties"][key] = text();
    region["properties"]["systems"] = texts();
    region["properties"]["colours"] = texts();
    region["properties"]["standing"] = standings();
    const Json at_large =
        both(section(SectionKind::TapesAtLarge, Json::object(), {}), required_facts(SectionKind::TapesAtLarge));
    Json standing_id = Json::object();
    standing_id["id"] = standings();
    const Json trust =
        both(section(SectionKind::Trust, std::move(standing_id), {"id"}), required_facts(SectionKind::Trust));
    return file({{"evidence", list_of(kind)},
                 {"region", list_of(region)},
                 {"tapes_at_large", at_large},
                 {"trust", list_of(trust)}},
                {"evidence"});
}

Json edition_file() {
    Json edition = {{"type", "object"}, {"additionalProperties", false}, {"required", {"version", "changed"}}};
    edition["properties"]["version"] = {{"type", "string"},
                                        {"pattern", R"(^(0|[1-9][0-9]*)\.(0|[1-9][0-9]*)\.(0|[1-9][0-9]*)$)"}};
    edition["properties"]["changed"] = {{"type", "string"}, {"pattern", "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"}};
    return file({{"table", edition}}, {"table"});
}

Json definitions() {
    Json defs = Json::object();
    for (const KeyRule& rule : table::key_rules()) defs[fact_name(rule)] = fact(rule);
    Json other_time = playing_time();
    other_time["properties"].erase("mode");
    other_time.erase("required");
    defs["grade.playing_time.also"] = std::move(other_time);
    defs["format-file"] = format_file();
    defs["systems-file"] = systems_file();
    defs["sources-file"] = sources_file();
    defs["limits-file"] = limits_file();
    defs["cautions-file"] = cautions_file();
    defs["codecs-file"] = codecs_file();
    defs["evidence-file"] = evidence_file();
    defs["edition-file"] = edition_file();
    return defs;
}

}  // namespace

Json files_schema() {
    Json json = {{"$schema", "https://json-schema.org/draft/2020-12/schema"},
                 {"title",
                  "Files of a guardband table: a tape format, the TV systems, the sources, the limits, the cautions, "
                  "the codecs, the kinds of evidence, the edition"},
                 {"type", "object"}};
    // One file is known by its section, so that a complaint is about that kind of file and not about all eight.
    Json choice = reference("systems-file");
    for (const auto& [key, name] :
         {std::pair{"table", "edition-file"}, std::pair{"evidence", "evidence-file"}, std::pair{"codec", "codecs-file"},
          std::pair{"caution", "cautions-file"}, std::pair{"limit", "limits-file"}, std::pair{"source", "sources-file"},
          std::pair{"format", "format-file"}})
        choice = Json{{"if", {{"required", {key}}}}, {"then", reference(name)}, {"else", std::move(choice)}};
    json["allOf"] = Json::array({choice});
    json["$defs"] = definitions();
    return json;
}

}  // namespace guardband::report
