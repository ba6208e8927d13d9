// Rates of the table against rates as printed, and exact relations between them.
#include <gmock/gmock.h>

#include <cmath>

#include "published/check.h"
#include "quantity/errors.h"

namespace guardband {
namespace {

using quantity::Rational;

class NoNames : public quantity::Names {
    Rational value(std::string_view name) const override {
        throw quantity::InputError(std::string(name), "not known here");
    }
};

template <typename Entry>
const table::Fact* fact_of(const std::vector<Entry>& entries, const Check::Given& given) {
    const auto found = std::ranges::find(entries, given.id, &Entry::id);
    return found == entries.end() ? nullptr : found->facts.known(given.key);
}

/// The fact that `given` names: of a mode by its address, or of a scanning standard, colour or transmission system by
/// its id.
const table::Fact* named_fact(const Check& c) {
    if (!c.given.address.empty()) {
        const auto [format, mode] = built_in().at(c.given.address, c.label);
        return format->fact_in(*mode, c.given.key);
    }
    if (const table::Fact* fact = fact_of(built_in().scannings, c.given)) return fact;
    if (const table::Fact* fact = fact_of(built_in().colours, c.given)) return fact;
    return fact_of(built_in().transmissions, c.given);
}

/// The subcarrier of the colour system that `plus` names, Hz; 0 if it names none.
double added_hz(const Check& c) {
    return c.given.plus.empty() ? 0 : built_in().find_colour(c.given.plus)->facts.known("subcarrier")->in("Hz");
}

void check_exactly(const Check& c, const table::Fact& fact, const Rational& times) {
    ASSERT_TRUE(fact.exact) << "the table has no exact value";
    const Rational in_unit(std::llround(quantity::unit_named(c.unit).to_base));
    EXPECT_EQ(*fact.exact * times, quantity::evaluate(c.exact, NoNames{}) * in_unit);
}

void check_as_printed(const Check& c, const table::Fact& fact, const Rational& times) {
    const double expected = std::stod(c.expect);
    const double value = fact.in(c.unit) * times.value() + added_hz(c) / quantity::unit_named(c.unit).to_base;
    EXPECT_NEAR(value, expected, allowance(c) + 1e-12 * expected);
}

}  // namespace

bool holds_rate(const Check& c) {
    if (c.what != "rate") return false;
    const table::Fact* fact = named_fact(c);
    EXPECT_NE(fact, nullptr) << c.given.id << c.given.address << " " << c.given.key;
    if (fact == nullptr) return true;
    const Rational times = c.given.times.empty() ? Rational(1) : quantity::evaluate(c.given.times, NoNames{});
    c.exact.empty() ? check_as_printed(c, *fact, times) : check_exactly(c, *fact, times);
    return true;
}

}  // namespace guardband
