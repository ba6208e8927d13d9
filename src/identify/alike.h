#pragma once

#include <vector>

#include "identify/mode_model.h"

namespace guardband::identify {

/// Can two modes be told apart on the tape itself, without a machine?
///
/// By the width of the tape, the shell, and what its tracks show: each measured with the usual scatter of its kind, two
/// modes count as told apart where their figures differ by more than twice what the difference is uncertain by, where
/// one has slanted tracks and the other none, or where they share no shell. The grade's label, hub and pack don't
/// count: they speak of the cassette, not of how it was recorded. A figure that the table lacks tells nothing apart.
bool told_apart(const Models& models, std::size_t a, std::size_t b);

/// The other modes that can't be told from this one so, of those whose tracks the table knows.
std::vector<std::size_t> alike(const Models& models, std::size_t mode);

/// All modes whose tracks the table knows, in groups within which none can be told from any other; groups of one left
/// out. A mode that is like two groups which differ from each other stands in the first.
std::vector<std::vector<std::size_t>> groups_alike(const Models& models);

}  // namespace guardband::identify
