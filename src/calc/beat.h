#pragma once

#include <vector>

#include "quantity/rational.h"

namespace guardband::calc {

/// How far a screen's rate lies above the nearest multiple of the rate at which a camera takes its pictures (fields if
/// it is interlaced), Hz: −camera/2 … camera/2. The pictures show its magnitude as flicker; 0 means that the flicker
/// stands still. Below 0, what a screen scans downwards seems to move upwards. Half way between two multiples it is
/// camera/2 and has no direction. Formula: screen − k · camera for the whole k that makes it least (sampling).
/// @param screen, camera  > 0  @throws DomainError otherwise
quantity::Rational beat(const quantity::Rational& screen, const quantity::Rational& camera);
/// The same in doubles. @param screen_hz  finite  @param camera_hz  > 0
double beat_hz(double screen_hz, double camera_hz);

/// What the clip shows of the beat: its magnitude, Hz.
double apparent_flicker_hz(double screen_hz, double camera_hz);

/// A true rate that a camera shows as a given flicker.
struct Alias {
    double rate_hz;
    double beat_hz;  ///< signed, as of `beat_hz()`
};

/// All true rates between two bounds that show as flicker of `apparent_hz`: k · camera ± apparent, rising.
/// @param apparent_hz  0 … camera/2  @param camera_hz  > 0  @param lowest_hz, highest_hz  bounds, at most 10 000 camera
/// rates apart
/// @throws DomainError outside these ranges
std::vector<Alias> aliases(double apparent_hz, double camera_hz, double lowest_hz, double highest_hz);

/// Share of a component of `frequency_hz` in the light that an exposure leaves: |sin(π f T) / (π f T)|. 1 for no
/// exposure time, 0 when it is a whole number of periods. @param exposure_s  ≥ 0  @throws DomainError otherwise
double exposure_gain(double frequency_hz, double exposure_s);

/// Bands of light and dark over the height of a picture in which a screen that is scanned from top to bottom covers
/// `picture_share` of the height, while the camera reads its rows from top to bottom in `readout_s` (0: all at once): f
/// · readout − share. Below 0 the phase of the flicker lags further down, and bands of a screen faster than a multiple
/// of the camera's rate roll downwards.
double bands_per_height(double screen_hz, double readout_s, double picture_share);

}  // namespace guardband::calc
