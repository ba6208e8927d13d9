#include "table/fact.h"

#include <algorithm>
#include <array>
#include <utility>

#include "quantity/errors.h"

namespace guardband::table {
namespace {

constexpr std::array<std::pair<Standing, std::string_view>, 5> standings{{{Standing::Standard, "standard"},
                                                                          {Standing::Published, "published"},
                                                                          {Standing::Computed, "computed"},
                                                                          {Standing::CommonPractice, "common practice"},
                                                                          {Standing::FromMemory, "from memory"}}};

double number_of(const Fact& fact) {
    if (!fact.value) throw quantity::DomainError(fact.key + " is not a number");
    return *fact.value;
}

double half_rounding(const Fact& fact) { return fact.exact ? 0.0 : quantity::half_last_digit(fact.printed); }

}  // namespace

std::string_view to_string(Standing standing) {
    return std::ranges::find(standings, standing, &std::pair<Standing, std::string_view>::first)->second;
}

std::optional<Standing> standing_named(std::string_view name) {
    const auto* found = std::ranges::find(standings, name, &std::pair<Standing, std::string_view>::second);
    if (found == standings.end()) return std::nullopt;
    return found->first;
}

double Fact::in(std::string_view unit_name) const {
    return quantity::converted(number_of(*this), *unit, quantity::unit_named(unit_name));
}

double Fact::lowest_in(std::string_view unit_name) const {
    const double lowest = low.value_or(number_of(*this) - half_rounding(*this));
    return quantity::converted(lowest, *unit, quantity::unit_named(unit_name));
}

double Fact::highest_in(std::string_view unit_name) const {
    const double highest = high.value_or(number_of(*this) + half_rounding(*this));
    return quantity::converted(highest, *unit, quantity::unit_named(unit_name));
}

const Fact* Facts::find(std::string_view key) const {
    const auto found = std::ranges::find(facts_, key, &Fact::key);
    return found == facts_.end() ? nullptr : &*found;
}

const Fact* Facts::known(std::string_view key) const {
    const Fact* fact = find(key);
    return fact != nullptr && fact->is_known() ? fact : nullptr;
}

}  // namespace guardband::table
