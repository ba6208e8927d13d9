#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calc/filmed_picture.h"
#include "calc/filmed_screen.h"
#include "calc/working.h"
#include "table/table.h"

namespace guardband::report {

/// What `beat` found out.
struct BeatAnswer {
    calc::Filming filming;
    std::string screen_name;  ///< `picture tube, 100 Hz`; empty for a bare rate
    calc::FilmedScreen filmed;
    std::optional<calc::FilmStrip> strip;  ///< what the picture shows, if one was written
    std::string picture_file;
    std::vector<std::string> remarks;  ///< `29.97 means 30000/1001`
    calc::Working working;             ///< empty if it was not asked for
    std::vector<std::string> cautions;
};

/// For a terminal of 80 columns.
std::string beat_text(const BeatAnswer& answer, const table::Table& table);

/// The contract's keys, their uncertainties, and what was assumed.
std::string beat_json(const BeatAnswer& answer, const table::Table& table);

}  // namespace guardband::report
