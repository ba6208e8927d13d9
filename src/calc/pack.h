#pragma once

namespace guardband::calc {

// Tape wound on a hub: the ring's area is the tape's length times its thickness, L t = π (D² - d²) / 4. Air between the
// turns is ignored, so a loose pack is larger than these say, by a few per cent at most. Plain geometry;
// tests/published/pack.toml holds it against a standard's cassettes. All throw DomainError for a hub or a thickness
// that is not above 0, a negative length, or a pack smaller than its hub.

/// Length of tape in a pack, m.
/// @param outer_mm, hub_mm  diameters, 0 < hub_mm <= outer_mm  @param thickness_um  total thickness of the tape, above
/// 0
double pack_length_m(double outer_mm, double hub_mm, double thickness_um);

/// Diameter of the pack that a length of tape makes, mm: D = √(d² + 4 L t / π). With half the length: of each pack when
/// both hubs hold the same.
double pack_outer_mm(double length_m, double hub_mm, double thickness_um);

/// The hub on which a length of tape makes a pack of this diameter, mm. @throws DomainError also if the tape fills it
/// without any hub
double pack_hub_mm(double outer_mm, double length_m, double thickness_um);

/// The thickness of tape of which this length makes this pack, µm. @param length_m  above 0
double pack_thickness_um(double outer_mm, double hub_mm, double length_m);

/// Turns in a pack: (D - d) / 2t.
double pack_turns(double outer_mm, double hub_mm, double thickness_um);

/// Length of the innermost turns of a pack, m: L = π N (d + N t). What a counter driven by the reel has wound when it
/// reads N.
/// @param turns  0 or more
double turns_length_m(double turns, double hub_mm, double thickness_um);

/// Turns that a length makes on a hub. Inverse of `turns_length_m`.
double turns_of_length(double length_m, double hub_mm, double thickness_um);

/// Turns per second of a reel from or onto which tape runs: f = v / (π D), taken at the outside of the pack.
/// @param outer_mm, tape_speed_mm_s  above 0, DomainError otherwise
double reel_turns_per_s(double outer_mm, double tape_speed_mm_s);

/// Diameter of the pack on a reel that turns so fast, mm. Inverse of `reel_turns_per_s`.
/// @param turns_per_s, tape_speed_mm_s  above 0, DomainError otherwise
double pack_outer_of_reel_mm(double turns_per_s, double tape_speed_mm_s);

}  // namespace guardband::calc
