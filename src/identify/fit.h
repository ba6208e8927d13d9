#pragma once

#include <string_view>
#include <vector>

#include "identify/posterior.h"
#include "identify/prediction.h"

namespace guardband::identify {

enum class FitVerdict { Consistent, Strained, NoKnownFormat };

/// `consistent`, `strained`, `no known format fits`.
std::string_view to_string(FitVerdict verdict);

/// How well the likely candidates explain what was observed.
struct Fit {
    double p_value = 1;
    FitVerdict verdict = FitVerdict::Consistent;
};

/// What one observation is to one candidate, given the other observations.
struct Agreement {
    Prediction prediction;
    double tail = 1;      ///< probability of a reading at least as far off, blunders left out; 0 if nothing can be said
    bool counts = false;  ///< it is part of the fit
};

/// @param rest  what is believed of the candidate by the other observations
Agreement agreement(const Models& models, const ModeModel& model, const ModeState& rest, const Observation& seen);

/// How often a tape of this mode gives evidence at least as far off as this, blunders included.
///
/// Method: the tail of each reading, t, becomes (1 - b) t + b with its kind's share b of blunders, which are taken to
/// be always as far off; the product is judged by Fisher's rule (-2 Σ ln p has a χ² distribution of 2n degrees; R. A.
/// Fisher, Statistical Methods for Research Workers). Errs on the side of a good fit, since a reading is seldom at that
/// floor. A reading that the table has no figure of the mode for counts as a blunder: a format can't be said to fit by
/// what is not known of it. Words that the table lacks don't count at all.
double p_value(const Models& models, const std::vector<Agreement>& agreements,
               const std::vector<const Observation*>& seen);

/// The verdict on the evidence: `no known format fits` below 0.03, which takes two readings that are not explained, or
/// more among many; `strained` below 0.1, or where one reading is likely a blunder.
Fit fit_of(double p_value, bool a_blunder_is_likely);

}  // namespace guardband::identify
