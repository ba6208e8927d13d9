#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "table/table.h"

namespace guardband::calc {

// Closures: places where figures of the table must agree with each other. One side is worked out from some figures, the
// other is printed; that they meet is a proof only if they came by different ways, so each closure knows what it rests
// on.

/// What is checked.
enum class ClosureKind {
    TrackRate,        ///< heads times drum speed is a whole multiple of the rate of tracks
    TrackPitch,       ///< from tape speed, rate of tracks and angle
    WritingSpeed,     ///< from drum, drum speed and tape speed
    MovingAngle,      ///< from the angle with the tape still and the speeds
    GuardBand,        ///< pitch less track width
    TrackHeight,      ///< the tracks fit across the tape
    ColourUnder,      ///< the carrier is a multiple of an eighth of the line rate
    BlankingCarrier,  ///< carriers at sync, blanking and white are as far apart as the levels of the signal
    Sideband,         ///< white carrier less bandwidth stays above the colour-under carrier
    Wavelength,  ///< writing speed over the white carrier, and over that with its upper sideband, encloses the shortest
                 ///< wavelength
    RunningTime,  ///< length over speed is the nominal time and a little more
    FullPack      ///< the full pack fits the shell
};

/// Every kind, in the order of reports.
std::vector<ClosureKind> all_closure_kinds();

/// `track pitch`, `full pack`.
std::string_view to_string(ClosureKind kind);
/// What the kind demands, in one line, with its tolerance.
std::string_view claim_of(ClosureKind kind);

enum class Outcome {
    Holds,
    OverLabel,       ///< the tape runs longer than its label promises by what is usual; the reason says how much
    DiffersAsNoted,  ///< and the file says why (`disagrees`)
    Differs,         ///< and the file says nothing
    NotedInVain,     ///< agrees, though the file says that it does not
    Circular,        ///< one side was computed from the other: proves nothing
    CannotTell       ///< a figure is missing
};

/// `holds`, `over the label`, `differs as noted`, `differs`, `noted in vain`, `circular`, `can't tell`.
std::string_view to_string(Outcome outcome);
std::vector<Outcome> all_outcomes();

/// One closure of one mode or cassette.
struct Closure {
    ClosureKind kind{};
    std::string address;  ///< `FORMAT:SYSTEM:MODE`; of a full pack only `FORMAT`
    std::string grade;    ///< the cassette or reel; empty where none is concerned
    std::string figure;   ///< key of the figure that is checked: `track_pitch`
    std::optional<double> derived, printed;
    std::string unit;       ///< of both
    std::string tolerance;  ///< `2 %`, `at most`
    Outcome outcome = Outcome::CannotTell;
    std::string reason;  ///< the file's note, what is missing, which figure was computed from which; or a remark on one
                         ///< that holds
    /// The weakest standing among the figures used; nothing if none was. A computed figure stands as the figures do
    /// that it was computed from.
    std::optional<table::Standing> rests_on;
    bool taken_over = false;  ///< every figure is that of the format it is based on: the same proof again

    /// Something that the file must mend or explain.
    bool is_fault() const { return outcome == Outcome::Differs || outcome == Outcome::NotedInVain; }
};

/// `vhs:525/60:SP T-120`.
std::string place_of(const Closure& closure);

/// All closures of a format: of its modes in the table's order, then of its own grades. Rates and levels of the TV
/// systems are taken as given.
std::vector<Closure> closures_of(const table::Table& table, const table::TapeFormat& format);
/// Those of one mode alone, without its cassettes.
std::vector<Closure> closures_of(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode);
/// Of the whole table.
std::vector<Closure> all_closures(const table::Table& table);

}  // namespace guardband::calc
