#include "calc/frame_rate_change.h"

#include <algorithm>
#include <cctype>
#include <cmath>

#include "quantity/errors.h"
#include "quantity/quantity.h"

namespace guardband::calc {
namespace {

using quantity::Rational;

constexpr double highest_rate_hz = 1000;  // more than any film or video runs at

class NoNames : public quantity::Names {
    Rational value(std::string_view name) const override {
        throw quantity::InputError(std::string(name), "is no number");
    }
};

/// The whole rate that a number cut short from its 1000/1001 must mean; nothing if it is none.
std::optional<Rational> slowed_rate(const std::string& text, double value) {
    if (text.find('.') == std::string::npos || text.size() - text.find('.') < 3) return std::nullopt;
    const double whole = std::round(value * 1.001);
    const double half_digit = quantity::half_last_digit(text) * (1 + 1e-9);
    if (std::abs(whole / 1.001 - value) > half_digit) return std::nullopt;
    return Rational(std::llround(whole) * 1000, 1001);
}

}  // namespace

SpeedChange speed_change(double recorded, double played) {
    if (!(recorded > 0 && played > 0)) throw quantity::DomainError("speeds must be above 0");
    const double ratio = played / recorded;
    return {ratio, recorded / played, 1200 * std::log2(ratio)};
}

Rational frame_rate_named(std::string_view text, const std::string& input) {
    std::string bare(text);
    for (const std::string_view unit : {"frames/s", "fps", "Hz"})
        if (bare.ends_with(unit)) bare.erase(bare.size() - unit.size());
    std::erase_if(bare, [](char c) { return c == ' '; });
    const quantity::InputError fault(input, "\"" + std::string(text) + "\" is no frame rate",
                                     "write frames a second, such as 25, 29.97 or 30000/1001");
    const bool is_plain = !bare.empty() && std::ranges::all_of(bare, [](char c) {
        return std::isdigit(static_cast<unsigned char>(c)) != 0 || c == '.' || c == '/';
    });
    if (!is_plain) throw fault;
    Rational rate;
    try {
        rate = quantity::evaluate(bare, NoNames{});
    } catch (const quantity::InputError&) {
        throw fault;
    } catch (const quantity::DomainError&) {
        throw fault;
    }
    if (!(rate.value() > 0 && rate.value() <= highest_rate_hz)) throw fault;
    return slowed_rate(bare, rate.value()).value_or(rate);
}

}  // namespace guardband::calc
