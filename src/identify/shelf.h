#pragma once

#include <string>
#include <vector>

#include "identify/answer.h"
#include "table/document.h"

namespace guardband::identify {

/// A machine on a shelf.
struct Machine {
    std::string id, name, condition;
    /// What it plays: modes of the table. A format named alone stands for all of its modes, and for those of the
    /// formats that its machines also play, by the table.
    std::vector<const table::Mode*> modes;
    std::vector<const table::TapeFormat*> formats;  ///< of each mode
    std::vector<std::string> colours;               ///< everyday words; empty: not said
    bool works = true;

    bool plays(const table::TapeFormat& format, const table::Mode& mode) const;
};

/// A shelf file: `[[machine]]` with `id`, `name`, `plays` (formats, FORMAT:SYSTEM or addresses), and where known
/// `colours`, `condition` and `works`.
/// @throws InputError that names file, line and key
std::vector<Machine> read_shelf(const table::Table& table, const table::Document& document);

/// A machine that plays the tape, and how to set it.
struct Player {
    const Machine* machine = nullptr;
    std::string remark;  ///< what to mind; may be empty
};

/// What plays a tape of one mode.
struct Playable {
    const ModeModel* model = nullptr;
    double probability = 0;
    std::vector<Player> players;       ///< the best first
    std::vector<std::string> missing;  ///< for each machine that comes near, what it lacks; whole sentences
};

/// For each of the likeliest modes: one if it is 90 % likely, else as many as make that up, four at most. A colour
/// system that was observed is minded. Nothing without a shelf.
std::vector<Playable> playable(const std::vector<Machine>& shelf, const Answer& answer);

}  // namespace guardband::identify
