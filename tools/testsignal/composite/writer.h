#pragma once

#include <string>

#include "testsignal/composite/maker.h"

namespace guardband::testsignal {

/// Extension of the file that a recipe makes: `wav`, `flac`, or the name of the sample format.
std::string composite_extension(const CompositeRecipe& recipe);

/// Makes the file. @returns the truth as JSON; @throws quantity::InputError if it can't be written
std::string write_composite(const CompositeRecipe& recipe, const std::string& path);

}  // namespace guardband::testsignal
