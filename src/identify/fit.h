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

/// What one observation is to one candidate.
struct Agreement {
    Prediction prediction;
    double tail = 1;      ///< probability of a reading at least as far off, blunders left out; 0 if nothing can be said
    bool counts = false;  ///< it is part of the fit
};

/// @param state  what is believed of the candidate: before all evidence, but for what bears on the cassette, which goes
/// by
///               the other observations: they say which grade it is
Agreement agreement(const Models& models, const ModeModel& model, const ModeState& state, const Observation& seen);

/// True if the table has a figure that the reading contradicts: 2.8 standard deviations or more.
bool contradicts(const Agreement& agreement);

/// How often a tape of this mode gives evidence at least as far off as this, blunders included.
///
/// Method: what is further off is first what leaves more readings unexplained (beyond 2.8 standard deviations, which
/// blunders are taken to be always, honest readings once in 200), then what makes a smaller product of the other
/// readings' tails (R. A. Fisher's rule: -2 Σ ln t has a χ² distribution of 2n degrees). The probability of all that is
/// further off is a p-value. A reading that the table has no figure of the mode for counts as unexplained: a format
/// can't be said to fit by what is not known of it. What is not known of its cassettes, and words, don't count at all.
double p_value(const Models& models, const std::vector<Agreement>& agreements,
               const std::vector<const Observation*>& seen);

/// The verdict on the evidence: `no known format fits` below 0.01, which takes two of three readings that are not
/// explained, and more among many; `strained` below 0.1, or where one reading is likely a blunder or
/// contradicts the first candidate.
Fit fit_of(double p_value, bool has_contradiction);

}  // namespace guardband::identify
