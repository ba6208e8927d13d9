#pragma once

#include <string>

#include "testsignal/clip_maker.h"

namespace guardband::testsignal {

/// The truth about a clip as JSON, schema `guardband.testsignal/1`: what the recipe asked for, and what came of it in
/// numbers.
/// @param file  name of the clip, without folder
std::string truth_json(const Truth& truth, const std::string& file);

}  // namespace guardband::testsignal
