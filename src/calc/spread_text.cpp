#include "calc/spread_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "calc/number_text.h"

namespace guardband::calc {
namespace {

constexpr double rounding_share = 1e-9;     // an uncertainty so small comes from the arithmetic
constexpr double smallest_level_db = 0.05;  // finer than anyone hears, sees or measures

/// Five significant digits of what is not a power of ten away from 1; no exponent within what people work with.
std::string bare_text(double value) {
    const bool plain = value == 0 || (std::abs(value) >= 1e-4 && std::abs(value) < 1e9);
    if (!plain || std::abs(value) < 1e5) return fmt::format("{:.5g}", value);
    return fmt::format("{:.0f}", value);
}

bool stands_at_number(std::string_view unit) { return unit == "deg" || unit == "°"; }

std::string with_unit(const std::string& number, std::string_view unit) {
    if (unit.empty()) return number;
    return stands_at_number(unit) ? number + "°" : number + " " + std::string(unit);
}

}  // namespace

std::string number_text(double value, double standard_uncertainty) {
    const bool is_exact = !(standard_uncertainty > rounding_share * std::max(1.0, std::abs(value)));
    return is_exact ? with_true_minus(bare_text(value)) : with_uncertainty(value, standard_uncertainty, "");
}

std::string quantity_text(double value, double standard_uncertainty, std::string_view unit) {
    return with_unit(number_text(value, standard_uncertainty), unit);
}

std::string quantity_text(const quantity::Figure& figure) {
    if (!figure.is_known()) return figure.reason();
    if (const auto value = figure.number())
        return quantity_text(*value, figure.uncertainty().value_or(0), figure.unit());
    return std::get<std::string>(figure.value());
}

std::string quantity_text(const Input& input, std::string_view unit) {
    return with_unit(input.half_width > 0 ? number_text(input.value, input.half_width) : plain_text(input.value), unit);
}

std::string plain_text(double value) { return with_true_minus(fmt::format("{:.7g}", value)); }

std::string level_text(double value_db, double standard_uncertainty_db) {
    std::string value = with_true_minus(fmt::format("{:.1f}", value_db));
    if (standard_uncertainty_db < smallest_level_db) return value;
    return fmt::format("{} ± {:.1f}", value, standard_uncertainty_db);
}

}  // namespace guardband::calc
