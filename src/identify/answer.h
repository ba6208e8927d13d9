#pragma once

#include <optional>
#include <string>
#include <vector>

#include "identify/fit.h"
#include "identify/next_measurement.h"
#include "identify/observation.h"
#include "identify/posterior.h"

namespace guardband::identify {

/// What one observation says of one candidate.
struct Weight {
    std::size_t observation = 0;              ///< counts from 0 in the order given
    std::optional<double> expected;           ///< in the kind's unit; nothing where the table has no figure
    std::vector<std::string> expected_words;  ///< the likeliest words, for a kind of words
    bool absent = false;                      ///< the candidate has no such thing
    /// Ten times the decimal logarithm of how much likelier the observation is with this candidate than, in the mean,
    /// with all others; the other observations given.
    double weight_db = 0;
};

struct Candidate {
    const ModeModel* model = nullptr;
    double probability = 0;
    std::vector<Weight> evidence;  ///< one for each observation, in the order given
};

/// An observation that is more likely a blunder than not.
struct Suspicion {
    std::size_t observation = 0;         ///< counts from 0 in the order given
    double probability = 0;              ///< that it is a blunder
    const ModeModel* without = nullptr;  ///< the likeliest mode by the other observations
    double without_probability = 0;
};

/// Candidates of one format, or of one format in one standard, together.
struct Share {
    std::string name;   ///< id, or id and scanning standard
    std::string title;  ///< the format's name
    double probability = 0;
};

/// All that `identify` says.
struct Answer {
    std::vector<Observation> observations;
    std::vector<Candidate> candidates;  ///< all modes, the most likely first; evidence only of those that matter
    Fit fit;
    std::vector<Suspicion> suspicions;
    std::vector<std::size_t> conflicting;  ///< of one kind, which don't agree with each other
    std::vector<NextMeasurement> next;
    std::vector<const ModeModel*> alike;       ///< can't be told from the first candidate outside a machine
    std::vector<const ModeModel*> not_tested;  ///< likely modes that some evidence could not test, the table lacking it
};

/// Weighs the observations. @param observations  any number, none too: then the prior stands
/// @param with_next  false: leave out the next measurements, which take most of the time
Answer answer_of(const Models& models, const Prior& prior, std::vector<Observation> observations,
                 bool with_next = true);

/// Sums of the candidates by format; by format and scanning standard. The largest first.
std::vector<Share> by_format(const Answer& answer);
std::vector<Share> by_system(const Answer& answer);

}  // namespace guardband::identify
