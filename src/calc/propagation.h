#pragma once

#include <functional>
#include <span>
#include <string_view>
#include <vector>

#include "quantity/figure.h"
#include "table/fact.h"

namespace guardband::calc {

/// A number and how far it may be off either way.
struct Input {
    double value = 0, half_width = 0;
};

/// A fact with the half-width of its tolerance, or of the rounding of its printed digits where no tolerance is given.
/// @throws DomainError if it is no number or of another dimension
Input input_of(const table::Fact& fact, std::string_view unit);

/// What inputs do to a result.
struct Spread {
    double value = 0;
    double worst = 0;  ///< half-width when every input is off in the worst way at once
    double standard_uncertainty =
        0;  ///< inputs spread evenly over their half-widths (half-width / √3) and independent (JCGM 100)
};

/// Works out a result and moves each input to both ends in turn. Right for results that are nearly straight over the
/// inputs' widths; those here are.
Spread spread_of(const std::function<double(std::span<const double>)>& formula, const std::vector<Input>& inputs);

/// The result as a figure with its standard uncertainty.
quantity::Figure figure_of(const Spread& spread, std::string_view unit);

}  // namespace guardband::calc
