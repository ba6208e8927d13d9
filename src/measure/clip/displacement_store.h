#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <vector>

#include "measure/clip/displacement_track.h"

namespace guardband::measure {

/// What is kept of one line.
struct StoredLine {
    float place_px = 0;
    float variance = 0, step_variance = 0;  ///< as `PlacedLines` has them; without edges both are the step's
    float left_px = 0, right_px = 0;        ///< likewise; not a number where there are none
    float pair_variance = 0;                ///< likewise; of `left_px` and of `right_px`

    float off_mean_px = std::numeric_limits<float>::quiet_NaN();  ///< likewise

    bool placed() const { return variance < placed_variance; }
    bool has_pair() const { return left_px == left_px; }
    bool wander_known() const { return off_mean_px == off_mean_px; }
    bool step_known() const { return step_variance < placed_variance; }
};

/// Where a frame's scene lies.
struct ScenePlace {
    std::size_t number = 0;  ///< of the scene; another one wherever it can't be followed
    float lower = 0;         ///< lines of a field below where it was at first
    float moved = 0;         ///< lines of a field down since the frame before
};

/// Keeps the displacements of a clip's fields, a bounded number of them: when it is full every other frame is dropped,
/// and from then on only every other one is taken. Frames with edges to place their lines by are not kept beside frames
/// without: the former replace the latter.
class DisplacementStore {
public:
    explicit DisplacementStore(std::size_t capacity_frames = 1024) : capacity_(capacity_frames) {}

    /// @param index  of the frame, rising
    void add(std::int64_t index, const DisplacementTrack& track);

    std::size_t frames() const { return frames_.size(); }
    bool has_edges() const { return has_edges_; }
    /// Lines of both fields, that with the frame's rows 0, 2, 4 … first.
    const std::array<std::vector<StoredLine>, 2>& frame(std::size_t i) const { return frames_[i].lines; }
    const ScenePlace& scene(std::size_t i) const { return frames_[i].scene; }
    /// Without edges what each line shows by itself; else empty.
    const std::array<std::vector<SeenStep>, 2>& steps(std::size_t i) const { return frames_[i].steps; }
    std::size_t lines(std::size_t parity) const { return frames_.empty() ? 0 : frames_.front().lines[parity].size(); }

private:
    struct Stored {
        std::array<std::vector<StoredLine>, 2> lines;
        std::array<std::vector<SeenStep>, 2> steps;
        ScenePlace scene;
    };

    void follow(const DisplacementTrack& track);

    std::size_t capacity_;
    std::int64_t every_ = 1;
    bool has_edges_ = false;
    ScenePlace scene_;  ///< of the latest frame, kept or not
    std::vector<Stored> frames_;
};

}  // namespace guardband::measure
