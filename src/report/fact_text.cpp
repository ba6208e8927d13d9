#include "report/fact_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <tuple>

#include "quantity/quantity.h"
#include "table/schema.h"

namespace guardband::report {
namespace {

using quantity::Dimension;
using quantity::Unit;
using table::Fact;

constexpr int exact_rate_digits =
    9;  // an exact rate that no decimal ends: enough for a hundredth of a hertz at the subcarrier
constexpr int exact_digits = 6;                     // other exact values: finer than any instrument at the bench
constexpr double smallest_in_per_cent = 1e-4;       // below, millionths read better
constexpr std::size_t longest_plain_tolerance = 4;  // 0.01 reads as it is, 0.1668 is half a per cent of something
constexpr int least_digits = 4;                     // of a value converted from the unit of its source

bool is_plain_number(std::string_view text) { return text.find_first_not_of("0123456789.-") == std::string_view::npos; }

bool is_range(const Fact& fact) {
    return fact.printed.find("–") != std::string::npos ||
           (is_plain_number(fact.printed) && fact.printed.find('-', 1) != std::string::npos);
}

std::string replaced(std::string text, std::string_view from, std::string_view to) {
    for (std::size_t at = text.find(from); at != std::string::npos; at = text.find(from, at + to.size()))
        text.replace(at, from.size(), to);
    return text;
}

int significant_digits(std::string_view number) {
    int digits = 0;
    for (const char c : number)
        if (std::isdigit(static_cast<unsigned char>(c)) != 0 && (digits > 0 || c != '0')) ++digits;
    return digits;
}

/// A number with so many significant digits and no exponent; noughts that only fill up are kept, as a source would
/// print them.
std::string with_digits(double value, int digits) {
    if (value == 0) return "0";
    const int before_point = static_cast<int>(std::floor(std::log10(std::abs(value)))) + 1;
    return fmt::format("{:.{}f}", value, std::max(0, digits - before_point));
}

/// A number of at most so many significant digits, without noughts that only fill up.
std::string at_most_digits(double value, int digits) {
    std::string text = with_digits(value, digits);
    if (text.find('.') == std::string::npos) return text;
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') text.pop_back();
    return text;
}

bool is_power_of_ten(double ratio) { return std::abs(std::log10(ratio) - std::round(std::log10(ratio))) < 1e-9; }

/// What remains to be said of the source's own unit, when the shown one is no decimal shift of it.
bool is_shift_of(const Unit& own, const Unit& shown) { return is_power_of_ten(own.to_base / shown.to_base); }

/// The number of an exact value: whole when a short decimal is exactly it.
std::string exact_number(const Fact& fact, const Unit& shown) {
    const double value = quantity::converted(*fact.value, *fact.unit, shown);
    std::string whole = at_most_digits(value, 10);
    if (std::abs(std::stod(whole) - value) <= 1e-14 * std::abs(value)) return whole;
    const bool is_rate = shown.dimension == Dimension::Frequency || shown.dimension == Dimension::None;
    return at_most_digits(value, is_rate ? exact_rate_digits : exact_digits);
}

std::string printed_number(const Fact& fact, std::string_view printed, double in_own_unit, const Unit& shown) {
    if (fact.unit == &shown) return std::string(printed);
    const double value = quantity::converted(in_own_unit, *fact.unit, shown);
    const int digits = significant_digits(printed);
    return is_shift_of(*fact.unit, shown) ? with_digits(value, digits)
                                          : at_most_digits(value, std::max(least_digits, digits + 2));
}

std::string number_text(const Fact& fact, const Unit& shown) {
    if (is_range(fact) && fact.unit == &shown) return replaced(fact.printed, "-", "–");
    if (is_range(fact)) {
        const std::string ends = replaced(fact.printed, "–", "-");
        const std::string first = ends.substr(0, ends.find('-', 1)), last = ends.substr(ends.find('-', 1) + 1);
        return printed_number(fact, first, std::stod(first), shown) + "–" +
               printed_number(fact, last, std::stod(last), shown);
    }
    const bool is_exact = fact.exact && !is_plain_number(fact.printed);
    return is_exact ? exact_number(fact, shown) : printed_number(fact, fact.printed, *fact.value, shown);
}

/// A symmetric tolerance in the unit, or where that takes many digits as a share of the value, in per cent or
/// millionths.
std::string tolerance_text(double half_width, double value) {
    const double share = half_width / std::abs(value);
    struct Way {
        std::string number, unit;
    };
    const Way in_unit{at_most_digits(half_width, 4), ""};
    const Way relative = share < smallest_in_per_cent ? Way{at_most_digits(share * 1e6, 4), "ppm"}
                                                      : Way{at_most_digits(share * 100, 4), "%"};
    const bool is_plain =
        in_unit.number.size() <= longest_plain_tolerance || relative.number.size() >= in_unit.number.size();
    const Way& best = is_plain ? in_unit : relative;
    return fmt::format("{}±{}{}{}", no_break, no_break, best.number,
                       best.unit.empty() ? "" : std::string(no_break) + best.unit);
}

std::string spread_text(const Fact& fact, const Unit& shown) {
    if (is_range(fact) || (!fact.low && !fact.high)) return "";
    const auto in_shown = [&](double value) { return quantity::converted(value, *fact.unit, shown); };
    const auto end = [&](double value) { return at_most_digits(in_shown(value), 6); };
    if (!fact.high) return fmt::format("{}({}{}or{}more)", no_break, end(*fact.low), no_break, no_break);
    if (!fact.low) return fmt::format("{}({}{}or{}less)", no_break, end(*fact.high), no_break, no_break);
    const double below = *fact.value - *fact.low, above = *fact.high - *fact.value;
    if (above > 0 && std::abs(below - above) <= 1e-9 * std::abs(*fact.value))
        return tolerance_text(in_shown(above), in_shown(*fact.value));
    return fmt::format("{}({}{}to{}{})", no_break, end(*fact.low), no_break, no_break, end(*fact.high));
}

/// `(1135/4 + 1/625) × line rate = 17734475/4` behind a rate or a bare ratio; of angles and lengths the decimal says it
/// all.
std::string expression_text(const Fact& fact, const Unit& shown) {
    const bool is_telling = shown.dimension == Dimension::Frequency || shown.dimension == Dimension::None;
    if (!fact.exact || !is_telling || is_plain_number(fact.printed)) return "";
    const bool has_names =
        std::ranges::any_of(fact.printed, [](char c) { return std::isalpha(static_cast<unsigned char>(c)) != 0; });
    std::string text = " = " + replaced(replaced(fact.printed, " * ", " × "), "_", " ");
    if (has_names && fact.unit == &shown && fact.exact->denominator() != 1)
        text += " = " + quantity::to_string(*fact.exact);
    return text;
}

/// What the source itself prints, where that is in inches, feet or turns a minute.
std::string original_text(const Fact& fact, const Unit& shown) {
    if (fact.unit == &shown || is_shift_of(*fact.unit, shown) || fact.exact.has_value()) return "";
    return fmt::format("{}({}{}{})", no_break, replaced(fact.printed, "-", "–"), no_break, fact.unit->name);
}

std::string value_text_in(const Fact& fact, const Unit& shown, WithUnit with_unit) {
    if (!fact.is_known()) return "";
    if (!fact.value) return fact.printed;
    const std::string unit = with_unit == WithUnit::Yes ? unit_suffix(shown) : "";
    const std::string spread = spread_text(fact, shown);
    const bool is_share = spread.ends_with("%") || spread.ends_with("ppm");  // of the value: said after its unit
    std::string number = number_text(fact, shown);
    if (number.starts_with("-")) number.replace(0, 1, "−");
    return number + (is_share ? unit + spread : spread + unit) + original_text(fact, shown) +
           expression_text(fact, shown);
}

}  // namespace

const Unit& shown_unit(const Fact& fact) {
    for (const table::KeyRule& rule : table::key_rules())
        if (rule.key == fact.key && quantity::unit_named(rule.unit).dimension == fact.unit->dimension)
            return quantity::unit_named(rule.unit);
    return *fact.unit;
}

std::string unit_suffix(const Unit& unit) {
    if (unit.name.empty()) return "";
    return unit.name == "deg" ? "°" : std::string(no_break) + std::string(unit.name);
}

std::string value_text(const Fact& fact, WithUnit with_unit) {
    return value_text_in(fact, shown_unit(fact), with_unit);
}

std::string value_text_as_printed(const Fact& fact) { return value_text_in(fact, *fact.unit, WithUnit::Yes); }

bool same_statement(const Fact& a, const Fact& b) {
    const auto essence = [](const Fact& f) {
        return std::tie(f.printed, f.value, f.low, f.high, f.unit, f.unknown, f.source, f.where, f.standing, f.note,
                        f.why, f.disagrees);
    };
    return essence(a) == essence(b) && std::ranges::equal(a.also, b.also, same_statement);
}

}  // namespace guardband::report
