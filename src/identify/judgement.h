#pragma once

#include <array>

#include "table/table.h"

namespace guardband::identify {

/// How far a figure of one standing is believed.
struct Trust {
    double off_by = 0;  ///< beyond its tolerance: one standard deviation of the logarithm
    double wrong = 0;   ///< share of figures that are plainly wrong
};

/// What `evidence.toml` judges of all tapes together and of the table's own figures, in the form in which it is
/// calculated with: shares from 0 to 1, scatters as standard deviations of the logarithm.
struct Judgement {
    std::array<Trust, 5> trust;  ///< by `table::Standing`
    double other_standard_machine = 0, drum_rate_scatter = 0;
    double grey_of_grey_formats = 0, grey_of_colour_formats = 0, grey_of_others = 0;
    double from_elsewhere = 0;
    double other_standard_cassette = 0, unlisted_grades = 0, unlisted_with_listed_label = 0;
    double length_scatter = 0, thickness_scatter = 0, hub_scatter = 0;
    double winding_air = 0, winding_air_scatter = 0;
    double like_shell_within = 0, like_shell_mistaken = 0;

    const Trust& trust_in(table::Standing standing) const { return trust.at(static_cast<std::size_t>(standing)); }
};

/// @throws DomainError if the table has no judgement of something
Judgement judgement_of(const table::Table& table);

}  // namespace guardband::identify
