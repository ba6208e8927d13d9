#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "quantity/figure.h"
#include "report/text_table.h"
#include "table/table.h"

namespace guardband::report {

/// A figure's name for people and the group that it is shown in.
struct FigureTitle {
    std::string_view id, title, group;
};

/// What a measurement found, ready to be shown.
struct Measurement {
    std::string headline;                                                ///< one line: what was read
    std::vector<std::pair<std::string, quantity::Figure::Value>> input;  ///< what was read, key by key
    quantity::Figures figures;
    std::vector<quantity::Event> events;    ///< in time order
    std::string trouble;                    ///< why the input ended early; empty if it did not
    table::Edition edition;                 ///< of the table whose limits it was held against
    std::size_t columns = wide_page_width;  ///< of the text
    std::string kind;                       ///< what it is, for the one-line form; empty: as a clip's figures say
};

/// The measurement for people: the verdict first, then the figures by group, what could not be measured and why, and
/// what happened.
/// @param titles  in the order of showing; a figure without a title is shown last, by its id
std::string measurement_text(const Measurement& measurement, const std::vector<FigureTitle>& titles);

/// The measurement as one line: what the recording is and which figures are outside their limits, with their values.
std::string measurement_line(const Measurement& measurement, const std::vector<FigureTitle>& titles);

/// The JSON of the contract, schema `guardband.measure/1`.
std::string measurement_json(const Measurement& measurement);

/// A measured value and its uncertainty with as many digits as the uncertainty leaves sure: `25.000000 ± 0.000003 Hz`.
std::string figure_value_text(const quantity::Figure& figure);

}  // namespace guardband::report
