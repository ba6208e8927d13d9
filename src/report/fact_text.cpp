#include "report/fact_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace guardband::report {
namespace {

using table::Fact;

constexpr std::size_t page_width = 100;
constexpr std::size_t value_width = 46;  // leaves room for the longest title and a citation

/// A number for people: at most ten significant digits, no trailing noise of binary fractions.
std::string number_text(double value) { return fmt::format("{:.10g}", value); }

std::string range_text(const Fact& fact) {
    if (!fact.low && !fact.high) return "";
    const double below = fact.low ? *fact.value - *fact.low : 0;
    const double above = fact.high ? *fact.high - *fact.value : 0;
    if (std::abs(below - above) <= 1e-9 * std::abs(*fact.value) && below > 0) return fmt::format(" ± {:.3g}", below);
    return fmt::format(" ({} to {})", fact.low ? number_text(*fact.low) : "…", fact.high ? number_text(*fact.high) : "…");
}

/// The ratio behind a rate or a bare number; of angles and lengths the decimal says more.
std::string exact_text(const Fact& fact) {
    const bool is_telling = fact.unit->dimension == quantity::Dimension::Frequency || fact.unit->dimension == quantity::Dimension::None;
    if (!fact.exact || fact.exact->denominator() == 1 || !is_telling) return "";
    return " = " + quantity::to_string(*fact.exact);
}

bool is_plain_number(const std::string& text) { return text.find_first_not_of("0123456789.-") == std::string::npos; }

/// The digits as printed where they are a plain number, so that the source's rounding shows.
std::string digits_text(const Fact& fact) {
    const bool is_range = fact.printed.find("–") != std::string::npos || fact.printed.find('-', 1) != std::string::npos;
    return is_plain_number(fact.printed) && !is_range ? fact.printed : number_text(*fact.value);
}

/// A value of any length as rows of a bounded width; title and source stand in the first.
void add_value(TextTable& rows, const std::string& title, const std::string& value, const std::string& source) {
    const std::string lines = wrapped(value, value_width);
    std::size_t end = std::min(lines.find('\n'), lines.size());
    rows.add({title, lines.substr(0, end), source});
    while (end < lines.size()) {
        const std::size_t from = end + 1;
        end = std::min(lines.find('\n', from), lines.size());
        rows.add({"", lines.substr(from, end - from)});
    }
}

void add_fact(TextTable& rows, const table::KeyRule& rule, const Fact& fact, SourceNotes& notes) {
    add_value(rows, std::string(rule.title), value_text(fact), notes.cite(fact));
    for (const Fact& other : fact.also) add_value(rows, "", "also " + value_text(other), notes.cite(other));
}

}  // namespace

std::string value_text(const Fact& fact) {
    if (!fact.is_known()) return "unknown: " + fact.unknown;
    if (!fact.value) return fact.printed;
    std::string text = digits_text(fact) + range_text(fact);
    if (!fact.unit->name.empty()) text += " " + std::string(fact.unit->name);
    return text + exact_text(fact);
}

std::string SourceNotes::cite(const Fact& fact) {
    if (!fact.is_known()) return "";
    if (fact.standing == table::Standing::FromMemory || fact.standing == table::Standing::CommonPractice ||
        fact.standing == table::Standing::Computed)
        return std::string(to_string(fact.standing));
    auto found = std::ranges::find(ids_, fact.source);
    if (found == ids_.end()) found = ids_.insert(ids_.end(), fact.source);
    return fmt::format("[{}]{}", found - ids_.begin() + 1, fact.where.empty() ? "" : " " + fact.where);
}

std::string SourceNotes::list_text() const {
    std::string text;
    for (std::size_t i = 0; i < ids_.size(); ++i) {
        const table::Source* source = table_.find_source(ids_[i]);
        const std::string label = fmt::format("{:>4} ", fmt::format("[{}]", i + 1));
        const std::string year = source->year.empty() ? "" : ", " + source->year;
        text += label + wrapped(fmt::format("{}{} ({})", source->title, year, source->seen), page_width, label.size()) + "\n";
    }
    return text;
}

TextTable fact_table() {
    using enum TextTable::Align;
    return TextTable({{"", Left}, {"", Left}, {"", Left}});
}

void add_fact_rows(TextTable& rows, const table::Facts& facts, table::SectionKind section, SourceNotes& notes) {
    const auto add_rules = [&](bool of_the_section) {
        for (const table::KeyRule& rule : table::key_rules()) {
            if ((rule.section == section) != of_the_section || table::find_rule(section, rule.key) != &rule) continue;
            if (const Fact* fact = facts.find(rule.key)) add_fact(rows, rule, *fact, notes);
        }
    };
    add_rules(true);   // a mode's own figures come before those of its system that it overrides
    add_rules(false);
}

}  // namespace guardband::report
