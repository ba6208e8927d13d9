#pragma once

#include <optional>

#include "calc/track_geometry.h"
#include "quantity/figure.h"
#include "table/table.h"

namespace guardband::calc {

/// Tracks that a head crosses in one sweep when the tape runs at X times play: |X − 1|. 1 for a still picture, 0 at
/// play speed. Plain vector addition; see `tracks_crossed`.
double tracks_crossed_at(double times_play);

/// Noise bars in a field: where heads of two azimuths alternate, a head reads every second track that it crosses and
/// none of the others, so that each pair of tracks leaves one bar, |X − 1| / 2 · tracks per field; where all tracks are
/// alike, the guard band or the change from one track to the next leaves one each, |X − 1| · tracks per field. From
/// geometry; for the two-azimuth case common practice has the same rule, no source.
/// @param tracks_per_field  above 0  @throws DomainError otherwise
double noise_bars_per_field(double times_play, double tracks_per_field, bool azimuths_alternate);

/// Part of the distance from one bar to the next by which the bars stand off from where they stood one sweep before: 0
/// where they stand still (odd whole X where azimuths alternate, any whole X where they don't), up to a half.
double bar_shift_per_sweep(double times_play, bool azimuths_alternate);

/// Line rate against that of play while the drum keeps its speed: the head's speed along the recorded track over the
/// writing speed.
/// @param tape_speed_mm_s  of play, above 0
double line_rate_ratio(double tip_speed_m_s, double tape_speed_mm_s, double angle_still_deg, HeadMotion motion,
                       double times_play);

struct Shuttle {
    double times_play = 0;
    double tracks_per_sweep = 0;
    std::optional<bool> azimuths_alternate;  ///< nothing if the table does not give the azimuth
    bool is_digital = false;                 ///< blocks or held pictures rather than bars
    quantity::Figure tape_speed_mm_s, bars_per_field, shift_per_sweep, line_rate_ratio;
    std::optional<double> tracks_per_field;
};

/// A mode's picture when the tape is shuttled.
/// @param times_play  below 0 backwards
Shuttle shuttle(const table::Table& table, const table::TapeFormat& format, const table::Mode& mode, double times_play);

}  // namespace guardband::calc
