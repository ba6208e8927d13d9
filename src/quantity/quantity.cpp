#include "quantity/quantity.h"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <numeric>
#include <utility>

#include "quantity/errors.h"

namespace guardband::quantity {
namespace {

std::string_view trimmed(std::string_view text) {
    while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
    while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
    return text;
}

bool take(std::string_view& text, std::string_view token) {
    if (!text.starts_with(token)) return false;
    text.remove_prefix(token.size());
    return true;
}

/// A number at the start of `text`, which is moved past it.
std::optional<double> take_number(std::string_view& text) {
    text = trimmed(text);
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc() || !std::isfinite(value)) return std::nullopt;
    text.remove_prefix(static_cast<std::size_t>(end - text.data()));
    text = trimmed(text);
    return value;
}

/// The text before and after a plus-minus sign; the second is absent if there is no sign.
std::pair<std::string_view, std::optional<std::string_view>> split_at_plus_minus(std::string_view text) {
    for (const std::string_view sign : {"±", "+/-", "+-"})
        if (const std::size_t at = text.find(sign); at != std::string_view::npos)
            return {text.substr(0, at), text.substr(at + sign.size())};
    return {text, std::nullopt};
}

/// The second end of a range, `248` of `246-248` or `246–248`.
std::optional<double> take_range_end(std::string_view& text) {
    std::string_view rest = text;
    if (!take(rest, "–") && !take(rest, "-")) return std::nullopt;
    const auto end = take_number(rest);
    if (end) text = rest;
    return end;
}

/// Reads one quantity; keeps the text and the place for its errors.
class QuantityReading {
public:
    QuantityReading(std::string_view text, const Unit& fallback, const std::string& input)
        : text_(text), fallback_(fallback), input_(input) {}

    Quantity whole() const {
        auto [left, right] = split_at_plus_minus(text_);
        const auto value = take_number(left);
        if (!value) throw fault(" is not a number", "write it like 25.0, 25.0±0.1 or 810ft");
        Quantity quantity{*value, std::nullopt, &fallback_};
        if (const auto end = take_range_end(left)) {
            quantity.uncertainty = std::abs(*end - *value) / 2;
            quantity.value = std::midpoint(*value, *end);
        }
        if (right) quantity.uncertainty = spread(*right, quantity.value);
        if (left.empty() && right) left = *right;  // 25.0±0.1Hz: the unit of both stands at the end
        if (!left.empty()) quantity.unit = &unit(left);
        return quantity;
    }

private:
    InputError fault(const std::string& what, const std::string& remedy) const {
        return {input_, "\"" + std::string(text_) + "\"" + what, remedy};
    }

    /// What stands after the sign, moved past the number; a share of the value when it is written in per cent.
    double spread(std::string_view& text, double value) const {
        const auto number = take_number(text);
        if (!number || *number < 0) throw fault(" has no usable uncertainty", "write it like 25.0±0.1");
        return take(text, "%") ? *number / 100 * std::abs(value) : *number;
    }

    const Unit& unit(std::string_view name) const {
        const Unit* unit = find_unit(name);
        if (unit != nullptr && unit->dimension == fallback_.dimension) return *unit;
        const std::string known = unit_names(fallback_.dimension);
        throw fault(unit == nullptr ? " has an unknown unit" : " has a unit of another kind",
                    known.empty() ? "write a bare number" : "use one of " + known);
    }

    std::string_view text_;
    const Unit& fallback_;
    const std::string& input_;
};

}  // namespace

std::optional<double> Quantity::uncertainty_in(const Unit& other) const {
    if (!uncertainty) return std::nullopt;
    return converted(*uncertainty, *unit, other);
}

Quantity parse_quantity(std::string_view text, const Unit& fallback, const std::string& input) {
    return QuantityReading(text, fallback, input).whole();
}

std::string shortest(double value) { return fmt::format("{}", value); }

double half_last_digit(std::string_view printed) {
    const std::size_t point = printed.find('.');
    const std::size_t exponent = printed.find_first_of("eE");
    const std::string_view mantissa = printed.substr(0, exponent);
    const auto decimals = point == std::string_view::npos ? 0.0 : static_cast<double>(mantissa.size() - point - 1);
    double power = 0;
    if (exponent != std::string_view::npos) {
        std::string_view digits = printed.substr(exponent + 1);
        power = take_number(digits).value_or(0);
    }
    return 0.5 * std::pow(10.0, power - decimals);
}

std::string h_mm_ss(double seconds) {
    const auto whole = static_cast<long long>(std::llround(std::abs(seconds)));
    return fmt::format("{}{}:{:02}:{:02}", seconds < 0 && whole != 0 ? "-" : "", whole / 3600, whole / 60 % 60,
                       whole % 60);
}

}  // namespace guardband::quantity
