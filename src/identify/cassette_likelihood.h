#pragma once

#include "identify/likelihood.h"

namespace guardband::identify {

/// Sets a state's cassettes to what is believed before any evidence.
void start_cassettes(const ModeModel& model, ModeState& state);

/// Weighs label, shell, pack and programme time: a sum over the cassettes that the tape may be.
/// @param speed  with its weights so far; learns from the programme time
/// @param state  nullptr if only the likelihood is wanted
/// @returns ln of the likelihood, that of `speed`'s weights in it
double weigh_cassettes(const ModeModel& model, const Evidence& evidence, Mixture& speed, ModeState* state);

/// Probability that a shell is seen, if the tape is this cassette. @param seen  its place in `Models::shells`
double shell_probability(const Models& models, const Cassettes& of_format, const Cassette& cassette, std::size_t seen);

}  // namespace guardband::identify
