#pragma once

#include <memory>
#include <span>
#include <string_view>
#include <vector>

#include "measure/clip_measurement.h"

namespace guardband::measure {

/// Where a figure stands in a report.
enum class Group { Time, Scan, History, Stability, Damage, Levels, Noise, Frame, Sharpness, Bars, Flicker, Sound };

/// `Time`, `Scan`, `History`, `Stability`, `Damage`, `Levels`, `Noise`, `Frame`, `Sharpness`, `Bars`, `Flicker`,
/// `Sound`: a heading for people.
std::string_view to_string(Group group);

/// One figure as reports name it.
struct FigureTitle {
    std::string_view id;     ///< stable; scripts depend on it
    std::string_view unit;   ///< empty for a text or a bare number
    std::string_view title;  ///< for people
};

/// One measurement: the figures it promises and how it is made.
struct ClipEntry {
    Group group;
    std::vector<FigureTitle> figures;
    std::unique_ptr<ClipMeasurement> (*make)(const ClipContext& context);
};

/// All measurements of a clip, in the order in which they see a frame, finish and are reported.
std::span<const ClipEntry> clip_measurements();

/// The title of a figure, or nullptr if no measurement has it.
const FigureTitle* find_title(std::string_view figure_id);

}  // namespace guardband::measure
