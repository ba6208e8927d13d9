#include "table/fact_reader.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "table/suggestion.h"

namespace guardband::table {
namespace {

using quantity::Quantity;
using quantity::Rational;
using quantity::Unit;

/// The rates of a scanning standard by name. Within the standard's own section they come from the facts read so far.
class ScanningNames : public quantity::Names {
public:
    ScanningNames(const Facts* facts) : facts_(facts) {}

    Rational value(std::string_view name) const override {
        const Fact* fact = facts_ == nullptr ? nullptr : facts_->known(name);
        if (fact == nullptr || !fact->exact)
            throw quantity::InputError("name \"" + std::string(name) + "\"", "no exact value goes by it here",
                                       "use lines, field_rate or line_rate of the scanning standard");
        return *fact->exact;
    }

private:
    const Facts* facts_;
};

/// Order of reading: what others are expressed in comes first.
int reading_rank(const std::string& key) {
    if (key == "lines") return 0;
    if (key == "field_rate") return 1;
    return key == "line_rate" ? 2 : 3;
}

std::string section_and_key(SectionKind section, std::string_view key) {
    return std::string(to_string(section)) + " " + std::string(key);
}

std::vector<std::string> keys_of(SectionKind section) {
    std::vector<std::string> keys;
    for (const KeyRule& rule : key_rules())
        if (find_rule(section, rule.key) == &rule) keys.emplace_back(rule.key);
    return keys;
}

/// Every key that a figure can have.
std::vector<std::string> all_keys() {
    std::vector<std::string> keys{"playing_time"};
    for (const KeyRule& rule : key_rules()) keys.emplace_back(rule.key);
    return keys;
}

/// Reads one inline table into a fact.
class FactReading {
public:
    FactReading(Fields& fields, const KeyRule& rule, const quantity::Names& names, const Table& table)
        : fields_(fields), rule_(rule), names_(names), table_(table) {}

    Fact whole() {
        fact_.key = rule_.key;
        fact_.unknown = fields_.optional_text("unknown");
        fact_.note = fields_.optional_text("note");
        fact_.why = fields_.optional_text("why");
        fact_.from = fields_.texts("from");
        fact_.disagrees = fields_.optional_text("disagrees");
        if (!fact_.unknown.empty()) return std::move(fact_);
        read_value();
        read_range();
        read_origin();
        return std::move(fact_);
    }

private:
    quantity::InputError fault(const std::string& what, const std::string& remedy = {}) const {
        return fields_.error("", what, remedy);
    }

    /// The fact's place for errors that are raised elsewhere: `file:line: [section] key`.
    std::string here(const std::string& part) const { return fault("").input() + part; }

    void read_value() {
        const std::string printed = fields_.optional_text("printed");
        const std::string exact = fields_.optional_text("exact");
        const std::string text = fields_.optional_text("text");
        if (int(!printed.empty()) + int(!exact.empty()) + int(!text.empty()) != 1)
            throw fault("needs just one of printed, exact, text or unknown");
        fact_.printed = printed + exact + text;
        if ((rule_.kind == KeyRule::Kind::Text) != !text.empty())
            throw fault(rule_.kind == KeyRule::Kind::Text ? "is a text" : "is a number", "write " + expected_form());
        if (!text.empty()) return;
        read_unit();
        exact.empty() ? read_printed() : read_exact();
        expect_possible();
    }

    std::string expected_form() const {
        if (rule_.kind == KeyRule::Kind::Text) return R"(text = "…")";
        return rule_.unit.empty() ? R"(printed = "…")" : fmt::format(R"(printed = "…", unit = "{}")", rule_.unit);
    }

    void read_unit() {
        const std::string unit = fields_.optional_text("unit");
        const Unit& expected = quantity::unit_named(rule_.unit);
        if (unit.empty() && !rule_.unit.empty())
            throw fault("has no unit", fmt::format("add unit = \"{}\"", rule_.unit));
        const Unit* given = quantity::find_unit(unit);
        if (given == nullptr || given->dimension != expected.dimension)
            throw fault("has the unit \"" + unit + "\"",
                        rule_.unit.empty() ? "leave the unit out: it is a bare number"
                                           : "use one of " + quantity::unit_names(expected.dimension));
        fact_.unit = given;
    }

    void read_printed() {
        const Quantity quantity = quantity::parse_quantity(fact_.printed, *fact_.unit, here(""));
        fact_.value = quantity.value;
        if (quantity.uncertainty) spread(*quantity.uncertainty);
        if (rule_.kind == KeyRule::Kind::Count) {
            if (quantity.value != std::round(quantity.value))
                throw fault("must be a whole number, not " + fact_.printed);
            fact_.exact = Rational(static_cast<std::int64_t>(quantity.value));
        }
    }

    void read_exact() {
        try {
            fact_.exact = quantity::evaluate(fact_.printed, names_);
        } catch (const quantity::InputError& e) {
            throw fault(e.what());
        }
        fact_.value = fact_.exact->value();
    }

    void expect_possible() {
        const double shown = quantity::converted(*fact_.value, *fact_.unit, quantity::unit_named(rule_.unit));
        if (shown < rule_.low || shown > rule_.high)
            throw fault(fmt::format("{} {} is impossible", quantity::shortest(shown), rule_.unit),
                        fmt::format("it must lie between {} and {} {}", rule_.low, rule_.high, rule_.unit));
    }

    void spread(double half_width) {
        fact_.low = *fact_.value - half_width;
        fact_.high = *fact_.value + half_width;
    }

    void read_range() {
        const std::string tolerance = fields_.optional_text("tolerance");
        const std::string low = fields_.optional_text("low");
        const std::string high = fields_.optional_text("high");
        if (!tolerance.empty()) read_tolerance(tolerance);
        if (!low.empty()) fact_.low = quantity::parse_quantity(low, *fact_.unit, here(".low")).value;
        if (!high.empty()) fact_.high = quantity::parse_quantity(high, *fact_.unit, here(".high")).value;
        if ((fact_.low || fact_.high) && !fact_.value) throw fault("a text has no tolerance");
        if ((fact_.low && *fact_.low > *fact_.value) || (fact_.high && *fact_.high < *fact_.value))
            throw fault("the value lies outside its own low and high");
    }

    void read_tolerance(const std::string& text) {
        if (!fact_.value) throw fault("a text has no tolerance");
        const std::string input = here(".tolerance");
        const bool is_share = text.find('%') != std::string::npos || text.find("ppm") != std::string::npos;
        const double half_width =
            is_share ? quantity::parse_quantity(text, quantity::unit_named("share"), input).in("share") *
                           std::abs(*fact_.value)
                     : quantity::parse_quantity(text, *fact_.unit, input).in(*fact_.unit);
        if (half_width < 0) throw fault("the tolerance is negative");
        spread(half_width);
    }

    void read_origin() {
        fact_.source = fields_.required_text("source");
        fact_.where = fields_.optional_text("where");
        if (table_.find_source(fact_.source) == nullptr) throw unknown_source();
        const std::string standing = fields_.required_text("standing");
        const auto known = standing_named(standing);
        if (!known)
            throw fault("has the standing \"" + standing + "\"",
                        "use standard, published, computed, common practice or from memory");
        fact_.standing = *known;
        expect_known_from();
    }

    void expect_known_from() const {
        if (!fact_.from.empty() && fact_.standing != Standing::Computed)
            throw fields_.error("from", "stands with a figure that is not computed",
                                "remove it, or say standing = \"computed\"");
        const std::vector<std::string> known = all_keys();
        for (const std::string& key : fact_.from)
            if (std::ranges::find(known, key) == known.end())
                throw fields_.error("from", "names \"" + key + "\", which is no key of the table",
                                    did_you_mean(key, known, "use the keys of the figures"));
    }

    quantity::InputError unknown_source() const {
        std::vector<std::string> known;
        for (const Source& source : table_.sources) known.push_back(source.id);
        return fault("cites the source \"" + fact_.source + "\", which sources.toml does not list",
                     did_you_mean(fact_.source, known, "add a [[source]] with that id"));
    }

    Fields& fields_;
    const KeyRule& rule_;
    const quantity::Names& names_;
    const Table& table_;
    Fact fact_;
};

}  // namespace

Fact FactReader::read(const Node& node, const KeyRule& rule, const quantity::Names& names) const {
    Fields fields(document_, node, section_and_key(rule.section, rule.key));
    Fact fact = FactReading(fields, rule, names, table_).whole();
    if (const Node* also = fields.child("also")) {
        if (also->as_array() == nullptr) throw fields.error("also", "is not a list", "write also = [ { … } ]");
        for (const Node& other : *also->as_array()) fact.also.push_back(read(other, rule, names));
    }
    fields.expect_no_more();
    return fact;
}

Facts FactReader::read_all(Fields& fields, SectionKind section, const std::string& scanning) const {
    auto nodes = fields.unread();
    std::ranges::stable_sort(nodes, {}, [](const auto& entry) { return reading_rank(entry.first); });
    Facts facts;
    const Scanning* standard = table_.find_scanning(scanning);
    for (const auto& [key, node] : nodes) {
        const KeyRule* rule = find_rule(section, key);
        if (rule == nullptr)
            throw fields.error(key, fmt::format("{} has no key of this name", to_string(section)),
                               did_you_mean(key, keys_of(section), "remove it"));
        const ScanningNames names(section == SectionKind::Scanning ? &facts
                                  : standard == nullptr            ? nullptr
                                                                   : &standard->facts);
        facts.add(read(*node, *rule, names));
    }
    return facts;
}

void expect_complete(const Document& document, int line, const std::string& place, const Facts& facts,
                     SectionKind section) {
    for (const KeyRule& rule : key_rules())
        if (rule.section == section && rule.required && facts.find(rule.key) == nullptr)
            throw error_at(document, line, place, fmt::format("{} is missing", rule.key),
                           fmt::format("add {} = {{ … }}, or {} = {{ unknown = \"why\" }}", rule.key, rule.key));
}

}  // namespace guardband::table
