#pragma once

#include <cstdint>
#include <string>

#include "testsignal/sound_recipe.h"

namespace guardband::testsignal {

/// Makes the signal of a recipe and writes it as a WAV file of one channel and 24 bits; what lies beyond full scale is
/// cut. The file is either complete or not there.
/// @returns what is true of it as JSON, schema `guardband.testsignal-sound/1`
/// @throws quantity::InputError if the file can't be written
std::string write_sound(const SoundRecipe& recipe, const std::string& path);

}  // namespace guardband::testsignal
