#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "quantity/quantity.h"
#include "quantity/rational.h"

namespace guardband::table {

/// How much a figure of the table can be leaned on.
enum class Standing { Standard, Published, Computed, CommonPractice, FromMemory };

/// `standard`, `published`, `computed`, `common practice`, `from memory`.
std::string_view to_string(Standing standing);
std::optional<Standing> standing_named(std::string_view name);

/// One figure or statement of the table with where it comes from.
struct Fact {
    std::string key;                          ///< as in the schema: `tape_speed`
    std::string printed;                      ///< the digits, the exact expression or the text, as the file has it
    std::optional<double> value;              ///< in `unit`; absent for texts and unknowns
    std::optional<quantity::Rational> exact;  ///< when the file gives an exact expression
    const quantity::Unit* unit = &quantity::no_unit();
    std::optional<double> low, high;  ///< permitted range in `unit`, from the tolerance or given as such
    std::string unknown;              ///< why there is no value; empty when there is one
    std::string source;               ///< id in `sources.toml`
    std::string where;                ///< clause, table or page as read; empty if not seen
    Standing standing = Standing::FromMemory;
    std::string note;
    std::vector<std::string> from;  ///< keys of the facts that a computed one was worked out from
    std::string disagrees;       ///< why it does not agree with what other figures of the table give; empty if it does
    std::string why;             ///< in `also` only: why the main figure is preferred
    std::vector<Fact> also;      ///< what other sources say
    std::string inherited_from;  ///< id of the format whose file has it, if not this one's own

    bool is_known() const { return unknown.empty(); }
    bool is_number() const { return value.has_value(); }

    /// The value in another unit. @throws DomainError if the fact is no number or of another dimension
    double in(std::string_view unit_name) const;
    /// Ends of the permitted range, or of the rounding of the printed digits where no tolerance is given.
    double lowest_in(std::string_view unit_name) const;
    double highest_in(std::string_view unit_name) const;
};

/// The facts of one section of a file.
class Facts {
public:
    Facts() = default;
    explicit Facts(std::vector<Fact> facts) : facts_(std::move(facts)) {}

    void add(Fact fact) { facts_.push_back(std::move(fact)); }
    /// The fact of this key, whether its value is known or not; nullptr if the file does not mention it.
    const Fact* find(std::string_view key) const;
    /// As `find`, but nullptr too when the value is not known.
    const Fact* known(std::string_view key) const;
    const std::vector<Fact>& all() const { return facts_; }

private:
    std::vector<Fact> facts_;
};

}  // namespace guardband::table
