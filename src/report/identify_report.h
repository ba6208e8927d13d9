#pragma once

#include <string>

#include "identify/answer.h"
#include "identify/shelf.h"

namespace guardband::report {

/// What `identify` says, for people: one sentence, the reasons, what contradicts, what to measure next, what it can't
/// tell, cautions. Lines of at most 80 columns.
/// @param plays  what plays the tape; empty if no shelf was given
std::string identify_text(const identify::Answer& answer, const identify::Models& models,
                          const std::vector<identify::Playable>& plays);

/// The same as JSON.
std::string identify_json(const identify::Answer& answer, const identify::Models& models,
                          const std::vector<identify::Playable>& plays);

/// The first sentence alone: `Beta format, 525/60, speed I, 98 %.`
std::string identify_sentence(const identify::Answer& answer);

/// Every kind of evidence explained for a newcomer.
std::string evidence_kinds_text(const table::Table& table);
std::string evidence_kinds_json(const table::Table& table);

/// Which modes of the table no measurement outside a machine tells apart.
std::string alike_text(const identify::Models& models);
std::string alike_json(const identify::Models& models);

}  // namespace guardband::report
