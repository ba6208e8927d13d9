#include "measure/waveform/made_video.h"

#include <cmath>

#include "support/made_sound.h"
#include "support/table_questions.h"

namespace guardband::measure {

testsignal::CompositeRecipe video_recipe(const std::string& system) {
    testsignal::CompositeRecipe recipe;
    recipe.name = recipe.title = "made";
    recipe.system = testsignal::composite_system(support::built_in(), system);
    return recipe;
}

std::vector<float> video_samples(const testsignal::CompositeRecipe& recipe, int bits) {
    testsignal::CompositeMaker maker(recipe);
    std::vector<float> all, some;
    while (maker.next(some)) all.insert(all.end(), some.begin(), some.end());
    if (bits == 0) return all;
    const float steps = std::ldexp(1.0F, bits - 1);
    for (float& sample : all) sample = std::round(sample * steps) / steps;
    return all;
}

WaveformReport measured(std::vector<float> samples, double rate_hz) {
    return measure_waveform(support::sound_of(std::move(samples), rate_hz), {}, support::built_in());
}

WaveformReport measured(const testsignal::CompositeRecipe& recipe, int bits) {
    return measured(video_samples(recipe, bits), recipe.sampling.rate_hz.value());
}

double value(const WaveformReport& report, const char* id) {
    const quantity::Figure* figure = report.figures.find(id);
    return figure != nullptr && figure->number() ? *figure->number() : NAN;
}

std::string text(const WaveformReport& report, const char* id) {
    const quantity::Figure* figure = report.figures.find(id);
    return figure != nullptr && figure->is_known() ? std::get<std::string>(figure->value()) : "unknown";
}

}  // namespace guardband::measure
