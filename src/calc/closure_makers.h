#pragma once

#include <string>
#include <vector>

#include "calc/closure.h"
#include "calc/closure_basis.h"

namespace guardband::calc {

/// Where a closure stands.
struct ClosurePlace {
    const table::Table& table;
    const table::TapeFormat& format;
    const table::Mode* mode = nullptr;    ///< nullptr for a cassette's own
    const table::Grade* grade = nullptr;  ///< nullptr for a mode's own

    const table::Fact* fact(std::string_view key) const {
        return mode == nullptr ? nullptr : format.fact_in(*mode, key);
    }
};

/// A closure before it is judged.
struct Comparison {
    ClosureKind kind{};
    std::string figure{}, unit{}, tolerance{};
    const table::Fact* bearer =
        nullptr;  ///< the fact whose `disagrees` explains a difference; nullptr if it is not known
    Side printed_side{}, derived_side{};
    std::optional<double> derived{}, printed{};
    bool agrees = false;
    bool over_label = false;  ///< agrees only as a promise that is more than kept
    std::string circular{};   ///< why it proves nothing by its very form; empty if it doesn't
    std::string missing{};    ///< what the table lacks; empty if nothing
    std::string remark{};     ///< for one that can be judged
};

/// Adds to a list of what is missing.
void add_missing(std::string& missing, const std::string& what);

Closure judged(const Comparison& comparison, const ClosurePlace& place);

// Each returns the closures of its subject that apply: a format without a colour-under carrier has none of that kind.
std::vector<Closure> track_closures(const ClosurePlace& place);
std::vector<Closure> carrier_closures(const ClosurePlace& place);
/// Of a grade: running times and the full pack.
std::vector<Closure> grade_closures(const ClosurePlace& place);

}  // namespace guardband::calc
