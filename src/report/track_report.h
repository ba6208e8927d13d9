#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calc/closure.h"
#include "calc/shuttle.h"
#include "calc/track_losses.h"
#include "calc/track_playback.h"
#include "calc/working.h"
#include "table/table.h"

namespace guardband::report {

/// What `track` found out.
struct TrackAnswer {
    const table::TapeFormat* format = nullptr;
    const table::Mode* mode = nullptr;
    calc::TrackGeometry tracks;
    std::vector<calc::Carrier> carriers;
    std::vector<calc::Closure> checks;
    std::optional<calc::Playback> playback;
    std::optional<calc::Shuttle> shuttle;
    std::optional<std::vector<calc::CarrierLosses>> losses;
    calc::LossQuery loss_query;
    calc::Working working;              ///< empty if it was not asked for
    std::vector<std::string> cautions;  ///< ids
};

/// For a terminal of 80 columns: the tracks, or only what else was asked for.
std::string track_text(const TrackAnswer& answer, const table::Table& table);

/// The contract's keys; beside each number its `_uncertainty`, or where it can't be had null and its `_reason`; further
/// `carriers`, and what else was asked for: `playback`, `shuttle`, `losses`, `working`.
std::string track_json(const TrackAnswer& answer, const table::Table& table);

}  // namespace guardband::report
