#pragma once

#include <string>
#include <vector>

#include "measure/features.h"
#include "media/clip.h"
#include "support/made_clip.h"
#include "support/made_context.h"

namespace guardband::support {

/// What one measurement alone says of a clip.
struct MeasuredFigures {
    quantity::Figures figures;
    std::vector<quantity::Event> events;

    const quantity::Figure& operator[](std::string_view id) const { return *figures.find(id); }
    double number(std::string_view id) const { return figures.find(id)->number().value_or(1e9); }
    double uncertainty(std::string_view id) const { return figures.find(id)->uncertainty().value_or(1e9); }
};

/// A clip made from a recipe, colour included.
template <typename Measurement>
MeasuredFigures measure_made(const testsignal::Recipe& recipe) {
    MadeClip clip(recipe, MadePlanes::All);
    MadeContext made;
    made.info.picture = clip.format();
    made.info.time_base = quantity::Rational(1) / recipe.raster.frame_rate;
    Measurement measurement(made.context);
    measure::FeatureExtractor extractor(clip.format());
    while (const auto frame = clip.next()) measurement.see(*frame, extractor.extract(*frame));
    MeasuredFigures out;
    measurement.finish(out.figures, out.events);
    return out;
}

/// The luma of a clip made from a recipe, changed before it is seen.
/// @param edit  called with the samples of a frame and the frame's number
template <typename Measurement, typename Edit>
MeasuredFigures measure_edited(const testsignal::Recipe& recipe, const Edit& edit) {
    MadeClip clip(recipe);
    MadeContext made;
    made.info.picture = clip.format();
    made.info.time_base = quantity::Rational(1) / recipe.raster.frame_rate;
    Measurement measurement(made.context);
    measure::FeatureExtractor extractor(clip.format());
    for (std::int64_t index = 0; auto planes = clip.next_planes(); ++index) {
        edit(planes->luma, index);
        const media::Frame frame = make_frame(clip.format(), *planes, index);
        measurement.see(frame, extractor.extract(frame));
    }
    MeasuredFigures out;
    measurement.finish(out.figures, out.events);
    return out;
}

/// A file, as FFmpeg made it.
template <typename Measurement>
MeasuredFigures measure_file(const std::string& path) {
    const auto reader = media::open_clip(path);
    MadeContext made;
    made.info = reader->info();
    Measurement measurement(made.context);
    measure::FeatureExtractor extractor(reader->info().picture);
    while (const auto frame = reader->next()) measurement.see(*frame, extractor.extract(*frame));
    MeasuredFigures out;
    measurement.finish(out.figures, out.events);
    return out;
}

/// One of the two systems that tapes have, at either depth.
inline testsignal::Recipe recipe_of(std::string_view system, int bit_depth, double duration_s, std::uint64_t seed) {
    testsignal::Recipe recipe;
    recipe.system = system;
    if (system == "525/60") {
        recipe.raster.height = 486, recipe.raster.frame_rate = quantity::Rational(30000, 1001);
        recipe.raster.line_rate_hz = 4.5e6 / 286;
        recipe.field_order = testsignal::FieldOrder::BottomFirst;
    }
    recipe.bit_depth = bit_depth, recipe.duration_s = duration_s, recipe.seed = seed;
    recipe.picture.motion_px = 1.3;
    return recipe;
}

}  // namespace guardband::support
