#pragma once

#include "quantity/rational.h"

namespace guardband::calc {

// Geometry of recorded tracks. The head moves past the tape's edge at the tip speed s, under the angle φ that the drum
// is set to; the tape moves along its edge at the speed v. Seen from the tape the head moves at the writing speed w,
// under the angle θ of the track:
//     w sin θ = s sin φ        w cos θ = s cos φ ∓ v        (- when the heads run with the tape, + when they run
//     against it)
// Plain vector addition; the same relations stand in the handbooks as "tip speed plus or minus tape speed" (common
// practice, no source), and tests/published/track.toml holds them against figures printed for real formats.

/// Which way the heads run along the tape's edge.
enum class HeadMotion { WithTape, AgainstTape };

/// Speed of a head's tip, m/s: s = π D n.
/// @param diameter_mm  the drum's, above 0  @param drum_speed_rev_s  above 0  @throws DomainError otherwise
double tip_speed_m_s(double diameter_mm, double drum_speed_rev_s);

/// Speed of the head over the tape, m/s: w = √(s² + v² ∓ 2 s v cos φ).
/// @param tape_speed_mm_s  0 or more  @param angle_still_deg  φ, 0 to 180  @throws DomainError outside these ranges
double writing_speed_m_s(double tip_speed_m_s, double tape_speed_mm_s, double angle_still_deg, HeadMotion motion);

/// The same from the angle of the recorded track: w = √(s² - v² sin² θ) ∓ v cos θ.
/// @param angle_moving_deg  θ, 0 to 180  @throws DomainError outside the ranges, or if the tape is faster than the
/// heads
double writing_speed_on_track_m_s(double tip_speed_m_s, double tape_speed_mm_s, double angle_moving_deg,
                                  HeadMotion motion);

/// Angle of the recorded track to the tape's edge, degrees: tan θ = s sin φ / (s cos φ ∓ v).
double track_angle_moving_deg(double tip_speed_m_s, double tape_speed_mm_s, double angle_still_deg, HeadMotion motion);

/// Angle of the heads' path to the edge of a tape that stands still, degrees: tan φ = w sin θ / (w cos θ ± v). Inverse
/// of `track_angle_moving_deg`.
double track_angle_still_deg(double tip_speed_m_s, double tape_speed_mm_s, double angle_moving_deg, HeadMotion motion);

/// Pitch of the tracks, µm: how far the tape moves between one track and the next, seen at right angles to the tracks:
/// p = (v/f) sin θ.
/// @param tracks_per_s  f, above 0  @throws DomainError otherwise
double track_pitch_um(double tape_speed_mm_s, const quantity::Rational& tracks_per_s, double angle_moving_deg);

/// The tape speed that gives a pitch, mm/s: v = p f / sin θ. Inverse of `track_pitch_um`.
/// @param angle_moving_deg  above 0 and below 180  @throws DomainError otherwise
double tape_speed_of_pitch_mm_s(double pitch_um, const quantity::Rational& tracks_per_s, double angle_moving_deg);

/// Tracks in each millimetre along the tape's edge: f / v. Independent of angle and pitch, so it can be counted on
/// developed tape.
/// @param tape_speed_mm_s  above 0  @throws DomainError otherwise
double tracks_per_mm(double tape_speed_mm_s, const quantity::Rational& tracks_per_s);

/// Length of track from the start of one to the start of the next, mm: w / f. Where several heads write at a time, a
/// track is longer by as many.
double track_length_mm(double writing_speed_m_s, const quantity::Rational& tracks_per_s);

/// How far a track reaches across the tape, mm: length · sin θ.
double track_height_mm(double track_length_mm, double angle_moving_deg);

}  // namespace guardband::calc
