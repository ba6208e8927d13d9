#pragma once

#include <optional>
#include <vector>

#include "identify/mode_model.h"
#include "quantity/figure.h"

namespace guardband::identify {

// Where beliefs about quantities come from: figures of the table, and the spread of all formats' figures where one is
// missing.

/// The figure of one mode, before it becomes a belief.
struct TableFigure {
    std::optional<double> value, relative;  ///< relative standard deviation by tolerance or rounding
    table::Standing standing = table::Standing::FromMemory;
    bool is_exact = false;  ///< follows from a rate: right or wrong, but not a little off
    bool absent = false;
};

/// From a fact; no value if there is none. A fact that is unknown because there is no such thing is absent.
TableFigure figure_of(const table::Fact* fact, std::string_view unit);
/// From a figure that was worked out from facts of this standing.
TableFigure figure_of(const quantity::Figure& figure, table::Standing standing);

/// The spread of a quantity over the formats: half of it close around each figure, half wide over all.
/// @param values  one figure of each format and scanning standard, above 0
Mixture spread_of(const std::vector<double>& values);
/// The same as one normal distribution.
Normal wide_normal(const std::vector<double>& values);

/// What to believe of a quantity. @param spread  of all formats
Belief belief_in(const TableFigure& figure, const Judgement& judgement, const Mixture& spread, const Normal& wide);

/// The quantity as a copy or a worn tape shows it: the belief in what a format can do, less a loss.
Belief less_losses(const Belief& belief);

}  // namespace guardband::identify
