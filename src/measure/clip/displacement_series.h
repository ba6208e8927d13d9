#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "measure/clip/displacement_track.h"

namespace guardband::measure {

/// The displacements of every line of one stretch of a clip, frame after frame as they came: from the first frame whose
/// edges place its lines, twenty seconds at most. What goes on in time shows in it, beside `DisplacementStore`, which
/// spreads over the whole clip.
class DisplacementSeries {
public:
    struct Line {
        float place_px;           ///< by all evidence; not a number where the line could not be placed
        float left_px, right_px;  ///< by either edge; not numbers where not both are seen

        bool has_pair() const { return left_px == left_px; }
    };
    struct Frame {
        std::int64_t index;
        std::array<std::vector<Line>, 2> fields;  ///< that with the frame's rows 0, 2, 4 … first
    };

    explicit DisplacementSeries(std::size_t most_frames = 512) : most_frames_(most_frames) {}

    void add(std::int64_t index, const DisplacementTrack& track);

    const std::vector<Frame>& frames() const { return frames_; }
    std::size_t lines() const;  ///< of the shorter field
    std::int64_t most_frames() const { return static_cast<std::int64_t>(most_frames_); }

private:
    std::size_t most_frames_;
    std::vector<Frame> frames_;
};

}  // namespace guardband::measure
