#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <vector>

#include "measure/features.h"

namespace guardband::measure {

/// Looks at the samples of what may be a band of noise, where sums over cells have no answer.
///
/// Noise takes all levels between its extremes, and most often those in the middle; what is drawn has few levels.
/// Noise of a frame has nothing to do with that of the frame before, wherever one looks; fine detail before a camera
/// that sweeps past differs from frame to frame in the same place as noise does, but lies elsewhere in the frame
/// before.
class BandSamples {
public:
    /// The next frame, if it may be of use later.
    void keep(const media::Frame& frame);

    /// Whether rows are noise by their levels. @param first, rows  of the field of that parity, from the top
    bool has_levels_of_noise(const media::Frame& frame, std::size_t parity, int first, int rows);
    /// Whether the rows come from elsewhere in the frame before: up to 4 rows and a third of the width away.
    bool has_moved(const media::Frame& frame, std::size_t parity, int first, int rows);

private:
    void read(const media::Frame& frame, int line, std::vector<float>& to) const;
    double likeness(const media::Frame& frame, std::size_t parity, const std::vector<int>& field_rows, int down);

    std::optional<media::Frame> before_;
    std::vector<float> now_, then_, levels_;
    std::vector<double> products_;
};

}  // namespace guardband::measure
