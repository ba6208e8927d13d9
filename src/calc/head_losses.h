#pragma once

#include "calc/propagation.h"

namespace guardband::calc {

// What a head loses of a recorded wave, in dB, positive: 5 dB means that 0.56 of the amplitude is left. λ is the
// length of one wave on the tape. The formulae are those of the handbooks for long tracks and linear reading; a head's
// own losses (iron, windings) and what recording itself loses are no part of them. All throw DomainError for a
// wavelength that is not above 0 and for negative widths, gaps, spacings and thicknesses.

/// Length of a recorded wave, µm: λ = w / f.
/// @param writing_speed_m_s  w, above 0  @param frequency_hz  f, above 0  @throws DomainError otherwise
double wavelength_um(double writing_speed_m_s, double frequency_hz);

/// Loss by a spacing d between head and tape: 20 log10(e) · 2π d/λ = 54.6 d/λ dB. Source: Wallace, 1951, as later
/// papers cite it.
double spacing_loss_db(double spacing_um, double wavelength_um);

/// Loss by a gap g: −20 log10 |sin(πg/λ) / (πg/λ)|; infinite where g is a whole number of waves. Source: common
/// practice, no source. The g that fits is the effective one, larger than what a microscope shows; see
/// `effective_gap_low`.
double gap_loss_db(double gap_um, double wavelength_um);

/// The effective gap over the one that is ground, from memory (Westmijze's result for an ideal edge): a real head has
/// its first null at a wavelength of 1.12 to 1.14 gaps.
inline constexpr double effective_gap_low = 1.12, effective_gap_high = 1.14;

/// Loss by reading a magnetised layer of thickness δ, whose deeper parts are further away: 20 log10[(2πδ/λ) / (1 −
/// exp(−2πδ/λ))]. Against a layer that is all at the surface, so 6 dB an octave for thick layers. Source: Wallace,
/// 1951, as later papers cite it. δ is what is recorded: at short waves less than the coating.
double thickness_loss_db(double thickness_um, double wavelength_um);

/// Loss by a gap that stands at an angle α to the recorded lines: −20 log10 |sin x / x|, x = π b tan α / λ; infinite
/// where x is a whole number of π. Source: common practice, no source; it is the mean of the wave along the gap.
/// @param width_um  b, of what is read, along the gap's mean direction  @param angle_deg  α, −90 to 90, both excluded
double azimuth_loss_db(double width_um, double angle_deg, double wavelength_um);

/// The least that an azimuth angle loses whatever the width is to a fraction of a wave: 20 log10 max(1, x). What can be
/// relied on: the nulls of `azimuth_loss_db` move with every micrometre of width.
double least_azimuth_loss_db(double width_um, double angle_deg, double wavelength_um);

/// As `spread_of`, of a level that may be infinite: an input that reaches a null at one end counts by its other end.
/// Infinite values keep an uncertainty of 0.
Spread level_spread_of(const std::function<double(std::span<const double>)>& level, const std::vector<Input>& inputs);

}  // namespace guardband::calc
