#include "calc/closure_basis.h"

#include <algorithm>

#include "table/schema.h"

namespace guardband::calc {
namespace {

using table::Fact;
using table::Standing;
using FactList =
    std::vector<const Fact*>;  // in the order in which they were met, so that reasons come out alike in every run

bool is_computed(const Fact& fact) { return fact.standing == Standing::Computed; }

bool contains(const FactList& facts, const Fact* fact) { return std::ranges::find(facts, fact) != facts.end(); }

/// Adds what a fact was computed from, and what that was.
void add_ancestors(const Fact& fact, const Scope& scope, FactList& ancestors) {
    for (const std::string& key : fact.from)
        for (const Fact* source : scope.find(key)) {
            if (contains(ancestors, source)) continue;
            ancestors.push_back(source);
            add_ancestors(*source, scope, ancestors);
        }
}

FactList ancestors_of(const Fact& fact, const Scope& scope) {
    FactList ancestors;
    add_ancestors(fact, scope, ancestors);
    return ancestors;
}

FactList facts_of(const Side& side) {
    FactList all = side.facts;
    all.insert(all.end(), side.given.begin(), side.given.end());
    return all;
}

/// The figures of a side and all that they go back to.
FactList with_ancestors(const Side& side, const Scope& scope) {
    FactList all = facts_of(side);
    for (const Fact* fact : side.facts) add_ancestors(*fact, scope, all);
    return all;
}

std::string title_of(const Fact& fact) {
    const auto rules = table::key_rules();
    const auto rule = std::ranges::find(rules, fact.key, &table::KeyRule::key);
    if (rule == rules.end()) return fact.key == "playing_time" ? "nominal time" : fact.key;
    return std::string(rule->title);
}

/// How a figure of one side was computed from these of the other.
std::string circular_by(const Side& side, const FactList& other, const Scope& scope) {
    for (const Fact* fact : side.facts) {
        if (!is_computed(*fact)) continue;
        if (fact->from.empty()) return title_of(*fact) + " is computed, and the file does not say from what";
        for (const Fact* ancestor : ancestors_of(*fact, scope))
            if (contains(other, ancestor)) return title_of(*fact) + " is computed from " + title_of(*ancestor);
    }
    return {};
}

}  // namespace

std::vector<const table::Facts*> Scope::sections() const {
    std::vector<const table::Facts*> all;
    if (grade_ != nullptr) all.push_back(&grade_->facts);
    if (mode_ != nullptr) {
        all.push_back(&mode_->facts);
        if (const table::FormatSystem* system = format_.find_system(mode_->system)) all.push_back(&system->facts);
        if (const table::Scanning* scanning = table_.find_scanning(mode_->system)) all.push_back(&scanning->facts);
    }
    all.insert(all.end(), {&format_.drum, &format_.tape, &format_.facts});
    return all;
}

std::vector<const Fact*> Scope::find(std::string_view key) const {
    std::vector<const Fact*> found;
    for (const table::Facts* facts : sections())
        if (const Fact* fact = facts->known(key)) found.push_back(fact);
    if (grade_ != nullptr && key == "playing_time")
        for (const table::PlayingTime& time : grade_->playing_times) found.push_back(&time.time);
    return found;
}

std::string circularity(const Side& printed, const Side& derived, const Scope& scope) {
    // What was computed from the other side itself tells more than what goes back to the same figures, so it is looked
    // for first.
    std::string why = circular_by(derived, facts_of(printed), scope);
    if (why.empty()) why = circular_by(printed, facts_of(derived), scope);
    if (why.empty()) why = circular_by(derived, with_ancestors(printed, scope), scope);
    if (why.empty()) why = circular_by(printed, with_ancestors(derived, scope), scope);
    return why;
}

std::optional<Standing> weakest_standing(const Side& printed, const Side& derived, const Scope& scope) {
    std::optional<Standing> weakest;
    const auto see = [&](const Fact& fact) { weakest = weakest ? std::max(*weakest, fact.standing) : fact.standing; };
    for (const Side* side : {&printed, &derived})
        for (const Fact* fact : side->facts) {
            const FactList ancestors = ancestors_of(*fact, scope);
            if (!is_computed(*fact) || ancestors.empty()) see(*fact);
            for (const Fact* ancestor : ancestors)
                if (!is_computed(*ancestor)) see(*ancestor);
        }
    return weakest;
}

}  // namespace guardband::calc
