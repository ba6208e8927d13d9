#pragma once

#include <string>
#include <vector>

#include "measure/waveform/waveform.h"
#include "testsignal/composite/maker.h"

namespace guardband::measure {

/// A recipe of bars in a colour system or scanning standard of the table, 0.2 s at 16 MS/s.
testsignal::CompositeRecipe video_recipe(const std::string& system);

/// Its samples as a digitiser of so many bits gives them. @param bits  0: as they are
std::vector<float> video_samples(const testsignal::CompositeRecipe& recipe, int bits = 0);

WaveformReport measured(std::vector<float> samples, double rate_hz);
WaveformReport measured(const testsignal::CompositeRecipe& recipe, int bits = 0);

/// The number of a figure, or no number.
double value(const WaveformReport& report, const char* id);
/// The text of a figure, or `unknown`.
std::string text(const WaveformReport& report, const char* id);

}  // namespace guardband::measure
