#pragma once

#include <cstdint>
#include <vector>

#include "testsignal/recipe.h"

namespace guardband::testsignal {

/// What one field of the clip shows. Progressive frames are counted as two fields of the same moment.
struct FieldSource {
    double time_s;             ///< moment of the scene, and of the light
    std::int64_t noise_field;  ///< number of the field whose noise it carries
    double later_time_s = 0;   ///< moment that a standards converter mixed in
    double later_share = 0;    ///< of it, 0 … 1
};

/// A frame that the clip lacks.
struct MissingFrame {
    std::int64_t source_frame;  ///< its number had it not been missing
    std::int64_t
        before_frame;  ///< number in the clip of the frame that follows the gap; the clip's frame count if none does
};

/// Turns the faults of a recipe into what each frame and field of the clip shows.
class FieldSchedule {
public:
    explicit FieldSchedule(const Recipe& recipe);

    /// Frames that the clip has, missing ones not counted.
    std::int64_t frame_count() const { return static_cast<std::int64_t>(kept_.size()); }
    /// The frame's number before any were taken out.
    std::int64_t source_frame(std::int64_t clip_frame) const { return kept_[static_cast<std::size_t>(clip_frame)]; }
    /// @param source_field  number in the order of time, before any frames were taken out
    FieldSource field(std::int64_t source_field) const;

    /// Fields of the clip (numbered in the clip, in the order of time) that show the same picture as the field two
    /// before them in the clip; by a fault or by pull-down. A repeat whose model is no longer just before it in the
    /// clip is left out.
    std::vector<std::int64_t> repeated_fields() const;
    /// Likewise frames of which both fields repeat those of the frame before.
    std::vector<std::int64_t> repeated_frames() const;
    std::vector<MissingFrame> missing_frames() const;

private:
    bool is_repeat(std::int64_t source_field) const;
    std::int64_t shown_field(std::int64_t source_field) const;
    double moment_s(std::int64_t source_field) const;
    FieldSource converted(std::int64_t source_field) const;

    Recipe recipe_;
    std::vector<std::int64_t> kept_;
    std::vector<bool> repeats_;  ///< by source field
    int pulldown_sum_ = 0;
};

}  // namespace guardband::testsignal
