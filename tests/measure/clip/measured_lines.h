#pragma once

#include <limits>
#include <vector>

#include "measure/clip/line_displacement.h"
#include "support/made_clip.h"
#include "support/made_context.h"
#include "support/measured_figures.h"

namespace guardband::measure {

/// The figures of lines of a made clip, and the truth about them.
struct MeasuredLines {
    quantity::Figures figures;
    std::vector<quantity::Event> events;
    testsignal::TimeBaseTruth truth;

    double value(const char* id) const {
        return figures.find(id)->number().value_or(std::numeric_limits<double>::quiet_NaN());
    }
    double rms() const { return value("time_base_error_rms"); }
};

inline MeasuredLines measure_lines(const testsignal::Recipe& r) {
    support::MadeClip clip(r);
    support::MadeContext made;
    made.info.picture = clip.format(), made.info.declared_frame_rate = r.raster.frame_rate;
    LineDisplacement measurement(made.context);
    const FrameFeatures unused;
    while (const auto frame = clip.next()) measurement.see(*frame, unused);
    MeasuredLines out;
    measurement.finish(out.figures, out.events);
    out.truth = *clip.truth().time_base;
    return out;
}

}  // namespace guardband::measure
