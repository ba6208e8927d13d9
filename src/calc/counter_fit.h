#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "calc/counter.h"

namespace guardband::calc {

/// A reading of the counter and the time since it stood at 0, each with the half-width of its rounding or tolerance.
struct CounterPair {
    double reading = 0, reading_half_width = 0.5;
    double time_s = 0, time_half_width_s = 0.5;
};

/// The bend of the curve as hub, thickness and speed tell it, with its standard uncertainty.
struct KnownBend {
    double bend_per_s = 0, standard_uncertainty = 0;
};

/// A pair that the others do not bear out.
struct DoubtfulPair {
    std::size_t index = 0;  ///< among the pairs
    double off_s = 0;       ///< its time less the time that the others give for its reading
    double ratio = 0;       ///< of that to its standard uncertainty
    CounterCurve without;   ///< what the others alone give
};

/// The curve that pairs give.
struct CounterFit {
    CounterCurve curve;
    double start_variance = 0, covariance = 0, bend_variance = 0;  ///< of `curve`; of standard uncertainties
    double degrees_of_freedom = 0;    ///< pairs, less what they and not a known bend determine of the curve
    double widening = 1;              ///< by which the residuals widen what rounding alone leaves uncertain
    std::vector<double> residuals_s;  ///< of the pairs: time given less time of the curve
    bool uses_known_bend = false;
    /// How many standard uncertainties the pairs' own bend lies from the known one, where they tell one.
    std::optional<double> bend_contradiction;
    std::optional<DoubtfulPair> doubtful;
};

/// Fits a counter's curve to pairs by least squares, each pair weighted by its rounding. A known bend counts as one
/// more observation: with one pair it is what makes the curve; the more pairs, the less it weighs. From three pairs on
/// it is left out if they contradict it by more than three standard uncertainties.
///
/// Uncertainty: of what the roundings (evenly spread) and the known bend leave. Where the residuals of the pairs show
/// more scatter than roundings would, √(χ²/ν) > 1, the pairs are taken to scatter so, with Student's factor for a
/// coverage of 68.27 %; never less than roundings. With ν near 0 nothing but roundings can be told. A contradiction
/// that two pairs can't settle widens it by its ratio. Bias: none that tests/calc/counter_fit_test.cpp can see against
/// reels wound turn by turn; a bend known wrongly pulls the curve the less, the more pairs there are.
///
/// A doubtful pair stays in: it is said, and what the others give without it. It takes two degrees of freedom among the
/// others to tell one. Measured on made counters: fewer than one good set in twenty is doubted, and a minute misread in
/// one of eight pairs over three hours is found in nine sets of ten.
///
/// @param pairs  readings above 0, times above 0; at least one, or two of different reading where no bend is known
/// @throws InputError if they can't be those of one counter that started from 0: too few, no time or no reading, time
/// running backwards, or a curve that turns back
CounterFit fit_counter(std::span<const CounterPair> pairs, const std::optional<KnownBend>& known);

/// The fit of no pair: a curve with its covariance as it follows from the reel.
CounterFit fit_of_reel(const CounterCurve& curve, double start_variance, double covariance, double bend_variance);

/// Standard uncertainty of the curve's time at a reading, s; the reading itself taken as exact.
double curve_uncertainty_s(const CounterFit& fit, double reading);

/// Standard uncertainty of the time that belongs to a reading, s: of the curve, and of reading the counter, widened as
/// the residuals demand.
/// @param reading_half_width  of its rounding
double time_uncertainty_s(const CounterFit& fit, double reading, double reading_half_width);

}  // namespace guardband::calc
