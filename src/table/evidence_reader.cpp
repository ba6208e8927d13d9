#include "table/evidence_reader.h"

#include "table/entries.h"
#include "table/origin.h"

namespace guardband::table {
namespace {

bool yes_or_no(Fields& fields, const std::string& key) {
    const std::string word = fields.required_text(key);
    if (word != "yes" && word != "no")
        throw fields.error(key, "\"" + word + "\" is neither yes nor no", "write yes or no");
    return word == "yes";
}

/// A kind that reads numbers has a usual error and a range, one that reads words has neither.
void expect_scale(const Fields& fields, const Facts& facts) {
    const bool has_scatter = facts.known("scatter") != nullptr;
    for (const char* key : {"lowest", "highest"})
        if ((facts.known(key) != nullptr) != has_scatter)
            throw fields.error(key, "scatter, lowest and highest go together", "give all three or none");
    if (has_scatter && *facts.known("lowest")->value >= *facts.known("highest")->value)
        throw fields.error("highest", "is not above lowest", "give the range that the kind can read");
}

EvidenceKind read_kind(Fields& fields, const Table& table) {
    EvidenceKind kind;
    kind.id = fields.required_text("id");
    kind.title = fields.required_text("title");
    kind.measures = fields.required_text("measures");
    kind.how = fields.required_text("how");
    kind.needs = fields.required_text("needs");
    kind.needs_machine = yes_or_no(fields, "machine");
    read_origin(fields, table, kind);
    kind.facts = FactReader(fields.document(), table).read_all(fields, SectionKind::Evidence, "");
    expect_complete(fields.document(), fields.line(), "[[evidence]] " + kind.id, kind.facts, SectionKind::Evidence);
    expect_scale(fields, kind.facts);
    return kind;
}

Region read_region(Fields& fields, const Table& table) {
    Region region;
    region.id = fields.required_text("id");
    region.name = fields.required_text("name");
    region.systems = fields.texts("systems");
    region.colours = fields.texts("colours");
    read_origin(fields, table, region);
    for (const std::string& system : region.systems)
        if (std::ranges::find(table.scannings, system, &Scanning::id) == table.scannings.end())
            throw fields.error("systems", "no scanning standard \"" + system + "\"", "use an id of tv-systems.toml");
    if (region.systems.empty()) throw fields.error("systems", "is empty", "name the scanning standards used there");
    fields.expect_no_more();
    return region;
}

Facts read_facts(Fields& fields, const Table& table, SectionKind section) {
    Facts facts = FactReader(fields.document(), table).read_all(fields, section, "");
    expect_complete(fields.document(), fields.line(), std::string(to_string(section)), facts, section);
    return facts;
}

Trust read_trust(Fields& fields, const Table& table) {
    Trust trust;
    trust.id = fields.required_text("id");
    if (!standing_named(trust.id))
        throw fields.error("id", "\"" + trust.id + "\" is not a standing", "use a standing, such as published");
    trust.facts = read_facts(fields, table, SectionKind::Trust);
    return trust;
}

void read_tapes_at_large(Fields& root, const Table& table, Facts& facts) {
    const Node* section = root.child("tapes_at_large");
    if (section == nullptr) return;
    Fields fields(root.document(), *section, "[tapes_at_large]");
    facts = read_facts(fields, table, SectionKind::TapesAtLarge);
}

}  // namespace

void read_evidence(const Document& document, Table& table) {
    Fields root(document, document.root, "");
    for_each_section(root, "evidence", [&](Fields& fields) { put(table.evidence, read_kind(fields, table)); });
    for_each_section(root, "region", [&](Fields& fields) { put(table.regions, read_region(fields, table)); });
    read_tapes_at_large(root, table, table.tapes_at_large);
    for_each_section(root, "trust", [&](Fields& fields) { put(table.trusts, read_trust(fields, table)); });
    root.expect_no_more();
}

}  // namespace guardband::table
