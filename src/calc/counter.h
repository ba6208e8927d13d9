#pragma once

namespace guardband::calc {

// Counters that a reel drives, by a belt or by gears. Each turn of the reel adds the same to the reading, but winds
// more tape the fuller the take-up reel is (or less, the emptier the supply reel): the reading is no straight measure
// of time. A length L = π n (d + n t) is wound in n turns on a hub d, so with k counts a turn and tape speed v
//
//     T = x + q x²,  x = a N,  a = π d / (k v),  q = t v / (π d²)
//
// where T and N both start from 0 at the same place. On the supply reel d is the diameter of its pack at that place,
// and q is negative. Plain geometry, no slip; air between the turns counts as thickness.

/// The relation of one counter, one tape and one speed.
struct CounterCurve {
    double start_s = 0;     ///< a, seconds a count adds where it starts; above 0
    double bend_per_s = 0;  ///< q, 1/s: above 0 on a take-up reel, below on a supply reel
};

/// Which reel drives the counter.
enum class CountedReel { TakeUp, Supply };

/// The curve of a reel.
/// @param counts_per_turn  k, above 0  @param diameter_mm  of the bare hub for a take-up reel, of the pack where the
/// counter starts for a supply reel; above 0  @param thickness_um, tape_speed_mm_s  above 0
/// @throws DomainError outside these ranges
CounterCurve counter_curve(CountedReel reel, double counts_per_turn, double diameter_mm, double thickness_um,
                           double tape_speed_mm_s);

/// Counts a turn that a curve means: k = π d / (a v). Inverse of `counter_curve` in k.
double counts_per_turn(const CounterCurve& curve, double diameter_mm, double tape_speed_mm_s);

/// Thickness that a curve means, µm: t = |q| π d² / v. Inverse of `counter_curve` in t.
double thickness_of_curve_um(const CounterCurve& curve, double diameter_mm, double tape_speed_mm_s);

/// Time at a reading, s. @param reading  0 or more; on a supply reel no more than `highest_reading`
/// @throws DomainError otherwise
double counter_time_s(const CounterCurve& curve, double reading);

/// Reading at a time: N = 2 T / a (1 + √(1 + 4 q T)), which loses no digits where the curve is nearly straight. Inverse
/// of `counter_time_s`.
/// @param time_s  0 or more; on a supply reel no more than `counter_time_s` of `highest_reading`, DomainError otherwise
double counter_reading(const CounterCurve& curve, double time_s);

/// What one more count adds there, s: dT/dN.
double seconds_per_count(const CounterCurve& curve, double reading);

/// Where the curve of a supply reel turns back: it would be wound down to nothing. Infinite on a take-up reel.
double highest_reading(const CounterCurve& curve);

}  // namespace guardband::calc
