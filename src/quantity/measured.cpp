#include "quantity/measured.h"

#include <algorithm>
#include <cctype>
#include <charconv>
#include <vector>

#include "quantity/errors.h"

namespace guardband::quantity {
namespace {

constexpr double sixty = 60;

InputError time_error(std::string_view text, const std::string& input, const std::string& fault) {
    return {input, "\"" + std::string(text) + "\" " + fault, "write it like 1:02:30, 62.5min or 3750s"};
}

/// The plain decimal number that a text begins with.
std::string_view leading_number(std::string_view text) {
    const std::size_t first = std::min(text.find_first_not_of(" \t+-"), text.size());
    text.remove_prefix(first);
    return text.substr(0, std::min(text.find_first_not_of("0123456789."), text.size()));
}

std::vector<std::string_view> split_at_colons(std::string_view text) {
    std::vector<std::string_view> parts;
    for (std::size_t colon = text.find(':'); colon != std::string_view::npos; colon = text.find(':')) {
        parts.push_back(text.substr(0, colon));
        text.remove_prefix(colon + 1);
    }
    parts.push_back(text);
    return parts;
}

bool is_number_of_digits(std::string_view text, bool may_have_point) {
    const auto is_digit = [](char c) { return std::isdigit(static_cast<unsigned char>(c)) != 0; };
    const auto points = std::ranges::count(text, '.');
    return !text.empty() && is_digit(text.front()) && is_digit(text.back()) && points <= (may_have_point ? 1 : 0) &&
           std::ranges::all_of(text, [&](char c) { return c == '.' || is_digit(c); });
}

double number_of(std::string_view text) {
    double value = 0;
    std::from_chars(text.data(), text.data() + text.size(), value);
    return value;
}

/// `H:MM:SS` or `MM:SS`, seconds with or without decimals.
double colon_seconds(std::string_view clock, std::string_view text, const std::string& input) {
    const auto parts = split_at_colons(clock);
    if (parts.size() > 3) throw time_error(text, input, "has too many colons for a time");
    double seconds = 0;
    for (std::size_t i = 0; i < parts.size(); ++i) {
        if (!is_number_of_digits(parts[i], i + 1 == parts.size())) throw time_error(text, input, "is not a time");
        if (i > 0 && number_of(parts[i]) >= sixty) throw time_error(text, input, "has 60 or more after a colon");
        seconds = seconds * sixty + number_of(parts[i]);
    }
    return seconds;
}

Quantity parse_colon_time(std::string_view text, const std::string& input) {
    const std::size_t end = std::min({text.find("±"), text.find("+-"), text.find("+/-"), text.size()});
    std::string_view clock = text.substr(0, end);
    while (clock.ends_with(' ')) clock.remove_suffix(1);
    while (clock.starts_with(' ')) clock.remove_prefix(1);
    Quantity time{colon_seconds(clock, text, input), half_last_digit(clock.substr(clock.rfind(':') + 1)),
                  &unit_named("s")};
    if (end < text.size())
        time.uncertainty =
            parse_quantity("0" + std::string(text.substr(end)), *time.unit, input).uncertainty_in(*time.unit);
    return time;
}

}  // namespace

Quantity parse_measured(std::string_view text, const Unit& fallback, const std::string& input) {
    Quantity quantity = parse_quantity(text, fallback, input);
    if (!quantity.uncertainty) quantity.uncertainty = half_last_digit(leading_number(text));
    return quantity;
}

Quantity parse_measured_time(std::string_view text, const std::string& input) {
    if (text.find(':') != std::string_view::npos) return parse_colon_time(text, input);
    const Unit& second = unit_named("s");
    const Quantity time = parse_measured(text, second, input);
    if (time.value < 0) throw time_error(text, input, "is a negative time");
    return {time.in(second), time.uncertainty_in(second), &second};
}

}  // namespace guardband::quantity
