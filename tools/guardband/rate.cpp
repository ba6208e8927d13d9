#include "guardband/rate.h"

#include <charconv>
#include <cmath>

#include "calc/frame_rate_change.h"
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

InputError no_rate(const std::string& text, const std::string& option) {
    return {option, "\"" + text + "\" is no rate that can be worked with",
            "give pictures a second from 1 to 1000, such as 50, 59.94 or 60000/1001"};
}

/// A measured rate with what it may be off.
Rate measured_rate(const std::string& text, const std::string& option) {
    const quantity::Quantity read = quantity::parse_quantity(text, quantity::unit_named("Hz"), option);
    const double hz = read.in("Hz");
    if (!(hz >= lowest_hz && hz <= highest_hz)) throw no_rate(text, option);
    return {Rational(std::llround(hz * static_cast<double>(finest)), finest),
            read.uncertainty_in(quantity::unit_named("Hz")).value_or(0),
            {}};
}

Rate named_rate(const std::string& text, const std::string& option) {
    Rate rate;
    try {
        rate.exact = calc::frame_rate_named(text, option);
    } catch (const InputError&) {
        throw no_rate(text, option);
    }
    if (rate.exact.denominator() == 1001 && text.find('/') == std::string::npos)
        rate.remark = text + " means " + to_string(rate.exact);
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
    const bool is_measured = text.find("±") != std::string::npos || text.find('+') != std::string::npos;
    Rate rate = is_measured ? measured_rate(text, option) : named_rate(text, option);
    const double hz = rate.exact.value();
    if (hz < lowest_hz || hz > highest_hz || rate.exact.denominator() > finest || rate.off_hz >= hz)
        throw no_rate(text, option);
    return rate;
}

}  // namespace guardband::command_line
