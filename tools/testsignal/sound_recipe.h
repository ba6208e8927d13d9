#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <variant>

#include "testsignal/pulse_maker.h"
#include "testsignal/tone_maker.h"

namespace guardband::testsignal {

/// A recipe whose file has a table `[tone]` or `[pulses]` instead of pictures.
struct SoundRecipe {
    std::string name, title, invented;
    std::variant<ToneRecipe, PulseRecipe> signal;

    double sample_rate_hz() const;
};

/// Reads a recipe of sound; strict like `parse_recipe`. `every-sound-key.toml` lists the keys.
/// @returns nothing if the text has neither table: a recipe of pictures, or of nothing
/// @throws quantity::InputError whose input is `file:line: key`
std::optional<SoundRecipe> parse_sound_recipe(const std::string& file, std::string_view text);

/// As above for a file. @returns nothing too if it can't be read
std::optional<SoundRecipe> read_sound_recipe(const std::string& path);

}  // namespace guardband::testsignal
