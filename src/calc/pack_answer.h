#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calc/full_pack.h"
#include "calc/pack_query.h"
#include "calc/working.h"

namespace guardband::calc {

/// What a mode makes of the tape in a pack.
struct PackTime {
    const table::Mode* mode = nullptr;
    const table::Fact* speed = nullptr;
    Spread seconds{};                       ///< that the tape on this reel plays
    Spread turn_full_s{}, turn_empty_s{};   ///< one turn of the reel at its full pack and at its bare hub
    std::optional<Spread> other_seconds{};  ///< that the tape on the other reel plays
};

/// A reel at one moment.
struct ReelState {
    Spread outer_mm{}, turns_per_s{}, pulse_period_s{};
};

/// Both reels at a point of the tape.
struct ReelPoint {
    std::string name{};  ///< `start`, `middle`, `end`, or the time that was asked for
    Spread elapsed_s{}, remaining_s{};
    ReelState take_up{}, supply{};
};

/// Why the last minutes of rewinding are the hardest. The reel that winds pulls with a steady torque and the one that
/// unwinds is braked by a steady torque, as simple machines do: the pull falls as the radius of the one grows, the drag
/// rises as that of the other shrinks.
struct Rewinding {
    Spread radius_ratio{};  ///< full pack over bare hub: by so much the pull falls and the drag rises from end to end
    Spread margin_ratio{};  ///< its square: by so much pull over drag falls
};

/// The check of a full pack in its shell, or why it can't be made.
struct ShellCheck {
    const table::Shell* shell = nullptr;
    std::optional<ShellRoom> room{};
    std::optional<PackFit> fit{};
    double needed_uncertainty_mm = 0;
    std::string missing{};  ///< why there is no fit
};

/// All that follows from a pack.
struct PackAnswer {
    ResolvedPack pack{};
    PerSize<Spread> sizes{};
    Spread turns{};
    /// Tape of the grade that is not on this reel, m: where a pack was measured that does not hold the whole. Negative
    /// when the pack holds more than the grade does.
    std::optional<Spread> other_m{};
    Spread whole_m{}, full_mm{};  ///< the whole tape, and the pack that it makes
    std::vector<PackTime> times{};
    std::vector<ReelPoint> points{};
    Rewinding rewinding{};
    std::optional<ShellCheck> shell{};  ///< of a grade
    Working working{};
};

/// Answers a query. Assumes that both reels have hubs of the same diameter, and takes turns of the reel at the outside
/// of the pack: tape speed over its circumference. Sizes, times and speeds carry what the tolerances of the table and
/// the uncertainties of the user's figures leave, evenly spread and independent.
/// @throws InputError as `resolve` and `solved`; also if a point is asked for without a mode or beyond the tape's end
PackAnswer answer_of(const table::Table& table, const PackQuery& query);

/// How it was got: the size that was worked out, turns, time and reels of the first mode, rewinding and shell.
Working working_of(const PackAnswer& answer, const PackQuery& query);

}  // namespace guardband::calc
