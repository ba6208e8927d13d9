#pragma once

#include <string>
#include <vector>

#include "measure/pass.h"
#include "support/built_in_table.h"
#include "support/ffmpeg.h"
#include "support/made_reader.h"

namespace guardband::measure {

using support::built_in;

inline ClipReport measured(const testsignal::Recipe& recipe, support::MadeReader::Edit edit = {}) {
    support::MadeReader clip(recipe, std::move(edit));
    return measure_clip(clip, built_in());
}

/// A clip that FFmpeg makes. @param arguments  all but the file
inline ClipReport measured_of_ffmpeg(const std::string& arguments, const std::string& file = "a.mkv") {
    const support::TemporaryFolder folder;
    const std::string path = folder.file(file);
    support::ffmpeg(arguments + " '" + path + "'");
    const auto clip = media::open_clip(path);
    return measure_clip(*clip, built_in());
}

/// A figure's text; `not known` without one.
inline std::string text_of(const ClipReport& report, const char* id) {
    const quantity::Figure& figure = *report.figures.find(id);
    const auto* text = std::get_if<std::string>(&figure.value());
    return text != nullptr ? *text : "not known";
}

/// Events of one kind, as `frame+count`.
inline std::vector<std::string> events_of(const ClipReport& report, std::string_view kind) {
    std::vector<std::string> found;
    for (const quantity::Event& event : report.events)
        if (event.kind == kind)
            found.push_back(std::to_string(event.frame.value_or(-1)) + "+" + std::to_string(event.count.value_or(-1)));
    return found;
}

/// Half of the usual raster either way, which costs a quarter.
inline testsignal::Recipe small_clip(double motion_px, std::optional<double> snr_db, double duration_s) {
    testsignal::Recipe recipe;
    recipe.raster.width = 400, recipe.raster.height = 288;
    recipe.duration_s = duration_s;
    recipe.picture.motion_px = motion_px;
    recipe.picture.direction_deg = 20;
    recipe.noise.snr_db = snr_db;
    return recipe;
}

}  // namespace guardband::measure
