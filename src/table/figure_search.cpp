#include "table/figure_search.h"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <limits>
#include <utility>

#include "quantity/errors.h"
#include "table/suggestion.h"

namespace guardband::table {
namespace {

using quantity::InputError;

constexpr double most_nominal_rounding = 0.005;  // share: tape called half-inch is 12.65 to 12.7 mm wide

/// Sections whose keys are too short to stand alone.
std::string_view prefix_of(SectionKind section) {
    switch (section) {
        case SectionKind::Tape:
            return "tape_";
        case SectionKind::Shell:
            return "shell_";
        case SectionKind::Drum:
            return "drum_";
        case SectionKind::Grade:
            return "grade_";
        default:
            return "";
    }
}

bool is_of_formats(SectionKind section) {
    using enum SectionKind;
    for (const SectionKind kind : {Format, Tape, Shell, Drum, System, Mode, Grade})
        if (section == kind) return true;
    return false;
}

/// The rule of a search name or, where only one key reads so, of the key alone.
const KeyRule* rule_named(std::string_view name) {
    const KeyRule* by_key = nullptr;
    int readings = 0;
    for (const KeyRule* rule : searchable_rules()) {
        if (same_name(search_name(*rule), name)) return rule;
        if (same_name(rule->key, name)) by_key = rule, ++readings;
    }
    return readings == 1 ? by_key : nullptr;
}

[[noreturn]] void refuse_key(const std::string& input, std::string_view name) {
    std::vector<std::string> names, readings;
    for (const KeyRule* rule : searchable_rules()) {
        names.push_back(search_name(*rule));
        if (same_name(rule->key, name)) readings.push_back(names.back());
    }
    if (readings.size() > 1) {
        std::string list;
        for (const std::string& reading : readings) list += (list.empty() ? "" : " or ") + reading;
        throw InputError(input, "\"" + std::string(name) + "\" can mean several figures", "write " + list);
    }
    throw InputError(input, "no figure goes by the name \"" + std::string(name) + "\"",
                     did_you_mean(name, names, "`guardband formats --keys` lists them"));
}

std::string_view trimmed(std::string_view text) {
    while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
    while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
    return text;
}

std::string lowered(std::string_view text) {
    std::string result(text);
    std::ranges::transform(result, result.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return result;
}

/// The number at the start of `12.65mm`.
std::string_view digits_of(std::string_view text) {
    const std::size_t end = text.find_first_not_of("0123456789.-+eE");
    return text.substr(0, end);
}

/// The fact's range against what is wanted, both ends included: a tolerance is a promise that the value may lie there.
bool tolerance_meets(const Fact& fact, const quantity::Quantity& wanted, double slack) {
    const double reach = wanted.uncertainty.value_or(0) + slack, value = fact.in(wanted.unit->name);
    const double low = fact.low ? fact.lowest_in(wanted.unit->name) : value,
                 high = fact.high ? fact.highest_in(wanted.unit->name) : value;
    return wanted.value + reach >= low && wanted.value - reach <= high;
}

/// The range that the digits of a source stand for. Inches and feet are nominal sizes: half an inch is not anything
/// between 0.45 and 0.55.
std::pair<double, double> rounding_range(const Fact& fact, std::string_view unit) {
    const double value = fact.in(unit), ratio = fact.unit->to_base;
    const bool is_metric = std::abs(std::log10(ratio) - std::round(std::log10(ratio))) < 1e-9;
    const double most = is_metric ? std::numeric_limits<double>::infinity() : most_nominal_rounding * std::abs(value);
    return {std::max(fact.lowest_in(unit), value - most), std::min(fact.highest_in(unit), value + most)};
}

/// One statement, without what other sources say. The ends of a rounding are left out: 62.5 is no 62 and no 63.
bool value_meets(const Fact& fact, const Condition& condition) {
    if (!fact.is_known() || condition.number.has_value() != fact.is_number()) return false;
    if (!condition.number) return lowered(fact.printed).find(lowered(condition.text)) != std::string::npos;
    const quantity::Quantity& wanted = *condition.number;
    const double slack = 1e-9 * std::abs(wanted.value);  // for the binary fractions of converted units
    const double apart = std::abs(fact.in(wanted.unit->name) - wanted.value);
    if (wanted.uncertainty ? apart <= *wanted.uncertainty + slack : apart < std::max(condition.rounding - slack, slack))
        return true;
    if (fact.low || fact.high) return tolerance_meets(fact, wanted, slack);
    const auto [low, high] = rounding_range(fact, wanted.unit->name);
    return !wanted.uncertainty && low + slack < wanted.value && wanted.value < high - slack;
}

/// Looks through one format.
class FormatSearch {
public:
    FormatSearch(const TapeFormat& format, const std::vector<Condition>& conditions, std::string_view system)
        : format_(format), conditions_(conditions), system_(system) {}

    void add_findings(std::vector<Finding>& findings) const {
        for (const Shell* shell : candidates(format_.shells, SectionKind::Shell))
            for (const Grade* grade : candidates(format_.grades, SectionKind::Grade))
                add_widest(findings, shell, grade);
    }

private:
    /// The entries to go through one by one if a condition is of their section, else one that stands for all.
    template <typename Entry>
    std::vector<const Entry*> candidates(const std::vector<Entry>& entries, SectionKind section) const {
        if (std::ranges::none_of(conditions_, [&](const Condition& c) { return c.rule->section == section; }))
            return {nullptr};
        std::vector<const Entry*> all;
        for (const Entry& entry : entries) all.push_back(&entry);
        return all;
    }

    const Fact* fact_of(const Condition& condition, const Mode& mode, const Shell* shell, const Grade* grade) const {
        switch (condition.rule->section) {
            case SectionKind::Format:
                return format_.facts.find(condition.rule->key);
            case SectionKind::Tape:
                return format_.tape.find(condition.rule->key);
            case SectionKind::Shell:
                return shell->facts.find(condition.rule->key);
            case SectionKind::Grade:
                return grade->facts.find(condition.rule->key);
            default:
                return format_.fact_in(mode, condition.rule->key);
        }
    }

    /// What meets each condition in one mode; nothing if one isn't met.
    std::vector<const Fact*> met_in(const Mode& mode, const Shell* shell, const Grade* grade) const {
        std::vector<const Fact*> facts;
        for (const Condition& condition : conditions_) {
            const Fact* fact = fact_of(condition, mode, shell, grade);
            if (fact == nullptr || !meets(*fact, condition)) return {};
            facts.push_back(fact);
        }
        return facts;
    }

    /// Modes that meet the conditions by the same facts are one finding when they are all of the format or all of a
    /// system.
    void add_widest(std::vector<Finding>& findings, const Shell* shell, const Grade* grade) const {
        std::vector<Finding> single;
        for (const Mode& mode : format_.modes) {
            if (!system_.empty() && mode.system != system_) continue;
            if (auto facts = met_in(mode, shell, grade); !facts.empty())
                single.push_back({&format_, mode.system, mode.id, grade, shell, std::move(facts)});
        }
        const auto alike = [](const Finding& a, const Finding& b) { return a.facts == b.facts; };
        const bool all_alike = single.size() == format_.modes.size() &&
                               std::ranges::all_of(single, [&](const Finding& f) { return alike(f, single.front()); });
        if (all_alike) return add(findings, single.front(), "", "");
        for (auto first = single.begin(); first != single.end();) {
            auto last = std::find_if(first, single.end(), [&](const Finding& f) { return f.system != first->system; });
            const bool whole_system = std::all_of(first, last, [&](const Finding& f) { return alike(f, *first); }) &&
                                      last - first == modes_on(first->system);
            if (whole_system && last - first > 1)
                add(findings, *first, first->system, "");
            else
                findings.insert(findings.end(), first, last);
            first = last;
        }
    }

    static void add(std::vector<Finding>& findings, Finding finding, std::string system, std::string mode) {
        finding.system = std::move(system);
        finding.mode = std::move(mode);
        findings.push_back(std::move(finding));
    }

    std::ptrdiff_t modes_on(const std::string& system) const {
        return std::ranges::count(format_.modes, system, &Mode::system);
    }

    const TapeFormat& format_;
    const std::vector<Condition>& conditions_;
    std::string_view system_;
};

}  // namespace

std::string search_name(const KeyRule& rule) { return std::string(prefix_of(rule.section)) + std::string(rule.key); }

std::vector<const KeyRule*> searchable_rules() {
    std::vector<const KeyRule*> rules;
    for (const KeyRule& rule : key_rules())
        if (is_of_formats(rule.section)) rules.push_back(&rule);
    return rules;
}

Condition parse_condition(std::string_view text, const std::string& option) {
    const std::string input = option + " " + std::string(text);
    const std::size_t equals = text.find('=');
    if (equals == std::string_view::npos || trimmed(text.substr(equals + 1)).empty())
        throw InputError(input, "is no KEY=VALUE", "write it like tape_width=12.65 or coating=metal");
    const std::string_view name = trimmed(text.substr(0, equals)), value = trimmed(text.substr(equals + 1));
    Condition condition;
    condition.rule = rule_named(name);
    if (condition.rule == nullptr) refuse_key(input, name);
    if (condition.rule->kind == KeyRule::Kind::Text) {
        condition.text = value;
        return condition;
    }
    condition.number = quantity::parse_quantity(value, quantity::unit_named(condition.rule->unit), input);
    if (!condition.number->uncertainty) condition.rounding = quantity::half_last_digit(digits_of(value));
    return condition;
}

bool meets(const Fact& fact, const Condition& condition) {
    return value_meets(fact, condition) ||
           std::ranges::any_of(fact.also, [&](const Fact& other) { return value_meets(other, condition); });
}

std::vector<Finding> search(const Table& table, const std::vector<Condition>& conditions, std::string_view system) {
    std::vector<Finding> findings;
    for (const TapeFormat& format : table.formats) FormatSearch(format, conditions, system).add_findings(findings);
    return findings;
}

std::string place_of(const Finding& finding) {
    std::string place = finding.format->id;
    if (!finding.system.empty()) place += ":" + finding.system;
    if (!finding.mode.empty()) place += ":" + finding.mode;
    if (finding.shell != nullptr) place += ", " + finding.shell->name;
    if (finding.grade != nullptr) place += ", " + finding.grade->id;
    return place;
}

}  // namespace guardband::table
