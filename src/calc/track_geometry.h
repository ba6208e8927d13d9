#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calc/propagation.h"
#include "calc/track.h"
#include "quantity/figure.h"
#include "table/table.h"

namespace guardband::calc {

/// What the table knows of a mode's tracks; nullptr or nothing where it knows nothing.
struct TrackFacts {
    const table::Fact* diameter = nullptr;
    const table::Fact* drum_speed = nullptr;
    const table::Fact* heads = nullptr;
    const table::Fact* tape_speed = nullptr;
    const table::Fact* angle_still = nullptr;
    const table::Fact* angle_moving = nullptr;
    std::optional<HeadMotion> motion;
    bool heads_stand_still = false;  ///< fixed heads: the tape alone moves
    bool is_transverse = false;

    std::optional<quantity::Rational>
        tracks_per_s;  ///< that follow each other along the tape; tracks written side by side at a time count once
    std::vector<const table::Fact*> track_rate_facts;  ///< the format's own facts that the rate rests on
    std::string track_rate_assumption;                 ///< empty if the file gives tracks a field or a second
};

/// Gathers them. The rate of tracks is `tracks_per_second`, else `tracks_per_field` times the field rate, else drum
/// speed times heads.
TrackFacts track_facts(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode);

/// A result, the facts it was worked out from, and what was taken for granted; or why it can't be had.
struct Worked {
    std::optional<Spread> spread;
    std::vector<const table::Fact*> facts;
    std::string missing;     ///< what the table lacks, for people: `drum diameter`
    std::string assumption;  ///< empty if nothing had to be assumed

    quantity::Figure figure(std::string_view unit) const;
};

/// Tip speed, m/s.
Worked tip_speed(const TrackFacts& facts);
/// Writing speed, m/s. Where the file does not say which way the heads run, the tip speed give or take the tape's;
/// where it gives no angle, as if the heads ran along the tape (or straight across it, if transverse): a shallow angle
/// changes the sum by a few parts in ten thousand.
Worked writing_speed(const TrackFacts& facts);
/// Angle of the track, degrees, from the angle with the tape still.
Worked angle_moving_from_still(const TrackFacts& facts, HeadMotion motion);
/// Angle with the tape still, degrees, from that of the track.
Worked angle_still_from_moving(const TrackFacts& facts, HeadMotion motion);
/// Track pitch, µm, from the track's angle as the file gives it, else as it follows from the angle with the tape still.
Worked track_pitch(const TrackFacts& facts);

/// The tracks of a mode as they follow from its speeds and angles. A figure that the table's facts don't settle says
/// what is missing; uncertainties come from the table's tolerances and the rounding of its digits.
struct TrackGeometry {
    quantity::Figure tracks_per_s, tip_speed_m_s, writing_speed_m_s, angle_still_deg, angle_moving_deg, pitch_um,
        length_mm, height_mm, tracks_per_mm;
};

TrackGeometry track_geometry(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode);

}  // namespace guardband::calc
