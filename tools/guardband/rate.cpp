#include "guardband/rate.h"

#include <charconv>
#include <cmath>

#include "quantity/errors.h"
#include "quantity/quantity.h"

namespace guardband::command_line {
namespace {

using quantity::InputError;
using quantity::Rational;

constexpr double lowest_hz = 1, highest_hz = 1000;
constexpr std::int64_t finest = 1'000'000;  // parts of a hertz that a decimal rate is kept to

std::optional<std::int64_t> whole_number(std::string_view text) {
    std::int64_t value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc() || end != text.data() + text.size() || value <= 0 || value > 1'000'000'000)
        return std::nullopt;
    return value;
}

/// Digits after the point of the number that a text begins with.
int decimals_of(const std::string& text) {
    const std::size_t point = text.find('.');
    if (point == std::string::npos) return 0;
    const std::size_t end = text.find_first_not_of("0123456789", point + 1);
    return static_cast<int>((end == std::string::npos ? text.size() : end) - point - 1);
}

/// The multiple of 24 or 30 over 1.001 that these digits are the rounding of.
std::optional<Rational> colour_rate(double value, int decimals) {
    if (decimals < 2 || decimals > 6) return std::nullopt;
    const std::int64_t whole = std::llround(value * 1.001);
    if (whole % 24 != 0 && whole % 30 != 0) return std::nullopt;
    const Rational exact(1000 * whole, 1001);
    const double rounding = 0.5 * std::pow(10, -decimals) * (1 + 1e-9);
    return std::abs(exact.value() - value) <= rounding ? std::optional(exact) : std::nullopt;
}

Rate decimal_rate(const std::string& text, const std::string& option) {
    const quantity::Quantity read = quantity::parse_quantity(text, quantity::unit_named("Hz"), option);
    const double hz = read.in("Hz");
    if (!(hz >= lowest_hz && hz <= highest_hz)) return {Rational(0), 0, {}};
    Rate rate{Rational(std::llround(hz * static_cast<double>(finest)), finest),
              read.uncertainty_in(quantity::unit_named("Hz")).value_or(0),
              {}};
    if (rate.off_hz > 0) return rate;
    if (const auto colour = colour_rate(hz, decimals_of(text))) {
        rate.exact = *colour;
        rate.remark = text + " means " + to_string(*colour);
    }
    return rate;
}

}  // namespace

std::optional<Rational> ratio_of(const std::string& text) {
    const std::size_t stroke = text.find('/');
    if (stroke == std::string::npos) return std::nullopt;
    const auto numerator = whole_number(std::string_view(text).substr(0, stroke));
    const auto denominator = whole_number(std::string_view(text).substr(stroke + 1));
    if (!numerator || !denominator) return std::nullopt;
    return Rational(*numerator, *denominator);
}

Rate parse_rate(const std::string& text, const std::string& option) {
    Rate rate;
    if (const auto ratio = ratio_of(text))
        rate.exact = *ratio;
    else
        rate = decimal_rate(text, option);
    const double hz = rate.exact.value();
    if (hz < lowest_hz || hz > highest_hz || rate.exact.denominator() > finest || rate.off_hz >= hz)
        throw InputError(option, "\"" + text + "\" is no rate that can be worked with",
                         "give pictures a second from 1 to 1000, such as 50, 59.94 or 60000/1001");
    return rate;
}

}  // namespace guardband::command_line
