#pragma once

#include <string>

#include "calc/propagation.h"
#include "calc/track.h"
#include "quantity/figure.h"
#include "quantity/rational.h"
#include "table/table.h"

namespace guardband::calc {

/// What a machine's heads do to the tape that passes them.
struct Sweep {
    double tip_speed_m_s = 0;
    double angle_still_deg = 0;
    double tape_speed_mm_s = 0;  ///< below 0 where the tape runs backwards
    double tracks_per_s = 0;     ///< that the machine would write; each takes a head one sweep
    HeadMotion motion = HeadMotion::WithTape;
};

/// Recorded tracks that a head crosses during one sweep: (f_r / v_r) (Δx_p − Δx_r), where Δx is how far along the edge
/// the head's path on the tape, and the track, have come when they are as far across the tape as one sweep reaches.
/// With s the tip speed, φ the angle of the drum and v the tape's speed, h = s sin φ / f_p across and Δx = h (s cos φ ∓
/// v) / s sin φ along. Positive: the path leans back to tracks that were recorded later. One machine at n times its
/// tape speed crosses n − 1 (forwards; it falls behind tracks that run away from it). Plain vector addition.
/// @throws DomainError for speeds or rates that are not above 0 (the player's tape may stand still or run backwards)
double tracks_crossed(const Sweep& recorder, const Sweep& player);

/// Angle between a head's path and the recorded tracks, degrees; positive where the path is the steeper.
double path_to_track_deg(const Sweep& recorder, const Sweep& player);

/// A mode as a machine for it runs.
struct Machine {
    const table::Table* table = nullptr;
    const table::TapeFormat* format = nullptr;
    const table::Mode* mode = nullptr;
};

enum class TapeSpeed { OfThePlayer, OfTheRecording };

/// A head's path across the tracks when the tape runs at another speed, or the drum stands at another angle.
struct CrossOver {
    quantity::Figure tape_speed_mm_s;   ///< at which it is played
    quantity::Figure recorded_mm_s;     ///< at which it was recorded
    quantity::Figure tracks_per_sweep;  ///< tracks that the head crosses while it would write one; a magnitude
    quantity::Figure tracks_per_field;  ///< the same for a field of the player
    quantity::Figure angle_deg;         ///< between path and tracks
    std::string assumption;             ///< empty if nothing had to be assumed
    bool one_drum = false;              ///< both modes are of one format and system: only the speeds differ
    Sweep recorder, player;             ///< as worked with; empty where the drums are not known
};

/// What a machine of one mode does on a recording of another. Where both modes are of one format and the table gives
/// the drum's angle of only one or none, both drums are taken to stand at the same angle.
CrossOver cross_over(const Machine& recorder, const Machine& player, TapeSpeed speed);

}  // namespace guardband::calc
