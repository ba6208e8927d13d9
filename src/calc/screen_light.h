#pragma once

namespace guardband::calc {

// Light of a point on a picture tube: a flash each time the spot passes, and an exponential decay. All light is in
// units of its mean over time, so that a long exposure gives 1. All throw DomainError for a rate or an exposure that is
// not above 0 and for a negative decay.

/// A point that flashes at times 0, 1/rate, 2/rate …
struct ScreenLight {
    double rate_hz = 0;
    double decay_s = 0;  ///< time constant of the phosphor; 0: flashes without afterglow
};

/// Mean light over an exposure that begins at `start_s`. Closed form, summed over flashes: each gives 1 − exp(−age/τ)
/// of its light from its own moment to the exposure's end, less what it gave before the exposure began; all earlier
/// flashes are a geometric series.
double exposed_light(const ScreenLight& light, double start_s, double exposure_s);

/// Depth m of the first harmonic, 1 + m cos, in the exposed light: 2 |sin πfT / πfT| / √(1 + (2πfτ)²). The factor 2 is
/// a train of flashes', up to 2 with a short exposure. Fourier series of the flashes times that of the exposure.
double first_harmonic_depth(const ScreenLight& light, double exposure_s);

/// Brightest less darkest exposure there can be: P/T (1 − exp(−ρP/τ)) (1 − exp(−(1−ρ)P/τ)) / (1 − exp(−P/τ)), with P
/// the period and ρ the part of a period that the exposure has beyond whole ones; P/T for flashes without afterglow; 0
/// where ρ is 0. Between flashes light at both ends of the exposure decays alike, so that its extremes are exposures
/// that begin or end at a flash.
double peak_to_peak(const ScreenLight& light, double exposure_s);

}  // namespace guardband::calc
