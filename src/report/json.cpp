#include "report/json.h"

#include <set>
#include <string>

#include "table/schema.h"

namespace guardband::report {
namespace {

/// Adds a key only where there is something to say.
void add_text(Json& json, const char* key, const std::string& text) {
    if (!text.empty()) json[key] = text;
}

template <typename T>
void add_optional(Json& json, const char* key, const std::optional<T>& value) {
    if (value) json[key] = *value;
}

/// A whole number where the table has one, so that a count does not read 525.0.
Json value_of(const table::Fact& fact) {
    if (!fact.value) return fact.printed;
    if (fact.exact && fact.exact->denominator() == 1) return fact.exact->numerator();
    return *fact.value;
}

Json list_of(const std::vector<quantity::Component>& components) {
    Json list = Json::array();
    for (const quantity::Component& c : components) {
        Json json = {{"hz", c.hz}, {"depth_percent", c.depth_percent}, {"part", nullptr}};
        if (!c.part.empty()) json["part"] = c.part, json["harmonic"] = c.harmonic;
        add_optional(json, "amplitude_ns", c.amplitude_ns);
        list.push_back(std::move(json));
    }
    return list;
}

Json list_of(const std::vector<quantity::LineService>& services) {
    Json list = Json::array();
    for (const quantity::LineService& s : services) {
        Json json = {{"service", s.name},
                     {s.stored_rows ? "rows" : "lines", s.lines},
                     {"fields", s.fields},
                     {"of_fields", s.of_fields}};
        add_optional(json, "right", s.right);
        add_text(json, "checked", s.checked);
        add_text(json, "says", s.says);
        list.push_back(std::move(json));
    }
    return list;
}

Json to_json(const quantity::Limit& limit) {
    Json json = Json::object();
    add_optional(json, "low", limit.low);
    add_optional(json, "high", limit.high);
    add_optional(json, "text", limit.text);
    json["source"] = limit.source;
    return json;
}

/// The ids of the sources that the facts anywhere in an object cite.
void gather_cited(const Json& json, std::set<std::string>& ids) {
    if (json.is_object() && json.contains("source") && json["source"].is_string())
        ids.insert(json["source"].get<std::string>());
    if (!json.is_structured()) return;
    for (const Json& child : json) gather_cited(child, ids);
}

}  // namespace

Json to_json(const table::Fact& fact) {
    Json json = Json::object();
    if (!fact.is_known()) {
        json["value"] = nullptr;
        json["reason"] = fact.unknown;
    } else {
        json["value"] = value_of(fact);
        add_text(json, "unit", std::string(fact.unit->name));
        if (fact.value) json["printed"] = fact.printed;
        if (fact.exact && fact.exact->denominator() != 1) json["ratio"] = quantity::to_string(*fact.exact);
        add_optional(json, "low", fact.low);
        add_optional(json, "high", fact.high);
        json["source"] = fact.source;
        add_text(json, "where", fact.where);
        json["standing"] = to_string(fact.standing);
    }
    if (!fact.from.empty()) json["computed_from"] = fact.from;
    add_text(json, "disagrees", fact.disagrees);
    add_text(json, "note", fact.note);
    add_text(json, "why_not_preferred", fact.why);
    add_text(json, "from_format", fact.inherited_from);
    for (const table::Fact& other : fact.also) json["also"].push_back(to_json(other));
    return json;
}

Json to_json(const table::Facts& facts) {
    Json json = Json::object();
    for (const table::KeyRule& rule : table::key_rules())
        if (const table::Fact* fact = facts.find(rule.key); fact != nullptr && !json.contains(fact->key))
            json[fact->key] = to_json(*fact);
    return json;
}

Json to_json(const quantity::Figure::Value& value) {
    return std::visit(
        [](const auto& v) -> Json {
            if constexpr (std::is_same_v<std::decay_t<decltype(v)>, std::monostate>)
                return nullptr;
            else if constexpr (std::is_same_v<std::decay_t<decltype(v)>, std::vector<quantity::Component>> ||
                               std::is_same_v<std::decay_t<decltype(v)>, std::vector<quantity::LineService>>)
                return list_of(v);
            else
                return v;
        },
        value);
}

Json to_json(const table::Source& source) {
    Json json = {{"id", source.id}, {"title", source.title}};
    add_text(json, "year", source.year);
    json["kind"] = source.kind;
    json["seen"] = source.seen;
    add_text(json, "link", source.link);
    add_text(json, "note", source.note);
    return json;
}

Json with_edition(Json json, const table::Table& table) {
    std::set<std::string> cited;
    gather_cited(json, cited);
    Json sources = Json::array();
    for (const table::Source& source : table.sources)
        if (cited.contains(source.id)) sources.push_back(to_json(source));
    json["sources"] = std::move(sources);
    json["table_version"] = table.edition.version;
    json["table_changed"] = table.edition.changed;
    if (!table.edition.additions.empty()) json["table_additions"] = table.edition.additions;
    return json;
}

Json to_json(const quantity::Figure& figure) {
    Json json = Json::object();
    json["value"] = to_json(figure.value());
    if (!figure.is_known()) {
        json["reason"] = figure.reason();
        return json;
    }
    add_text(json, "unit", figure.unit());
    add_optional(json, "uncertainty", figure.uncertainty());
    if (!figure.alternatives().empty()) json["alternatives"] = figure.alternatives();
    add_text(json, "note", figure.note());
    if (figure.limit()) json["limit"] = to_json(*figure.limit());
    json["verdict"] = to_string(figure.verdict());
    return json;
}

Json to_json(const quantity::Event& event) {
    Json json = {{"kind", event.kind}, {"severity", to_string(event.severity)}, {"time_s", event.time_s}};
    add_optional(json, "frame", event.frame);
    add_optional(json, "field", event.field);
    add_optional(json, "line", event.line);
    add_optional(json, "start_us", event.start_us);
    add_optional(json, "length_us", event.length_us);
    add_optional(json, "count", event.count);
    add_text(json, "what", event.what);
    return json;
}

std::string to_text(const Json& json) { return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n"; }

}  // namespace guardband::report
