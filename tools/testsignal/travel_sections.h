#pragma once

#include "testsignal/recipe.h"
#include "testsignal/section.h"

namespace guardband::testsignal {

// Sections of a recipe file on what became of the pictures on their way: to another standard, through the player.
void read_conversion(ConversionSettings& c, Section s);
void read_player(PlayerSettings& p, Section s);
void read_noise_band(NoiseBandSettings& b, Section s);
void read_vertical_roll(VerticalRollSettings& v, Section s);

}  // namespace guardband::testsignal
