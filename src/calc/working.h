#pragma once

#include <string>
#include <vector>

#include "table/fact.h"

namespace guardband::calc {

// How an answer was got, as one would write it on paper: each formula, the same with the numbers put in, and where each
// number came from. Calculators fill it in beside the answer, from the very numbers that they used.

/// A number that went into a formula.
struct Given {
    std::string symbol;                 ///< as the formula has it: `t`
    std::string meaning;                ///< `thickness of the tape`
    std::string value;                  ///< with its unit: `19.5 ± 0.5 µm`
    const table::Fact* fact = nullptr;  ///< the figure of the table that it is; nullptr if it is none
    std::string origin{};  ///< where it is from if not the table: `given`, `assumed: a bare hub`, `definition`
};

/// One line of a calculation.
struct Step {
    std::string meaning;  ///< what it yields: `length of tape in the pack`
    std::string formula;  ///< `L = π (D² − d²) / 4t`
    std::string numbers;  ///< `π (88² − 26²) / (4 × 0.0195)`; empty where the formula needs none
    std::string result;   ///< `284.6 m`
    std::vector<Given> givens{};
    std::string source{};  ///< where the formula is from, for people: `plain geometry`, `common practice, no source`
};

using Working = std::vector<Step>;

}  // namespace guardband::calc
