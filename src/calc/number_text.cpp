#include "calc/number_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "quantity/quantity.h"

namespace guardband::calc {
namespace {

std::string spaced_unit(std::string_view unit) { return unit.empty() ? "" : " " + std::string(unit); }

/// Of the uncertainty's first digit, or its second where the first is 1 or 2; negative left of the point.
int decimals_for(double uncertainty) {
    const int exponent = static_cast<int>(std::floor(std::log10(uncertainty)));
    const double leading = uncertainty / std::pow(10, exponent);
    return -exponent + (leading < 2.95 ? 1 : 0);  // 2.95 and more would print as 3.0
}

std::string rounded_to(double value, int decimals) {
    if (decimals >= 0) return with_true_minus(fmt::format("{:.{}f}", value, decimals));
    const double step = std::pow(10, -decimals);
    return with_true_minus(fmt::format("{:.0f}", std::round(value / step) * step));
}

}  // namespace

std::string with_true_minus(const std::string& text) { return text.starts_with('-') ? "−" + text.substr(1) : text; }

std::string with_digits(double value, int digits) {
    if (value == 0) return "0";
    const int before_point = static_cast<int>(std::floor(std::log10(std::abs(value)))) + 1;
    return with_true_minus(fmt::format("{:.{}f}", value, std::max(0, digits - before_point)));
}

std::string significant(double value, int digits) {
    std::string text = with_digits(value, digits);
    if (text.find('.') == std::string::npos) return text;
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') text.pop_back();
    return text;
}

std::string with_uncertainty(double value, double uncertainty, std::string_view unit) {
    if (!(uncertainty > 0) || !std::isfinite(uncertainty)) return significant(value, 4) + spaced_unit(unit);
    const int decimals = decimals_for(uncertainty);
    return rounded_to(value, decimals) + " ± " + rounded_to(uncertainty, decimals) + spaced_unit(unit);
}

std::string with_uncertainty(const Spread& spread, std::string_view unit) {
    return with_uncertainty(spread.value, spread.standard_uncertainty, unit);
}

std::string time_with_uncertainty(double seconds, double uncertainty_s) {
    constexpr double least_s = 0.5, minutes_from_s = 100;
    std::string time = quantity::h_mm_ss(seconds);
    if (!(uncertainty_s >= least_s)) return time;
    if (uncertainty_s < minutes_from_s) return fmt::format("{} ± {:.0f} s", time, uncertainty_s);
    return fmt::format("{} ± {} min", time, significant(uncertainty_s / 60, 2));
}

std::string time_with_uncertainty(const Spread& seconds) {
    return time_with_uncertainty(seconds.value, seconds.standard_uncertainty);
}

}  // namespace guardband::calc
