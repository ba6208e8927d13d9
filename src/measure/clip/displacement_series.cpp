#include "measure/clip/displacement_series.h"

#include <algorithm>
#include <limits>

namespace guardband::measure {

void DisplacementSeries::add(std::int64_t index, const DisplacementTrack& track) {
    if (!track.has_edges(0) || !track.has_edges(1)) return;
    if (!frames_.empty() && index - frames_.front().index >= static_cast<std::int64_t>(most_frames_)) return;
    constexpr float unknown = std::numeric_limits<float>::quiet_NaN();
    Frame& frame = frames_.emplace_back();
    frame.index = index;
    for (std::size_t parity = 0; parity < 2; ++parity) {
        const PlacedLines& lines = track.field(parity);
        frame.fields[parity].reserve(lines.size());
        for (std::size_t i = 0; i < lines.size(); ++i)
            frame.fields[parity].push_back({lines.variance[i] < placed_variance ? lines.place_px[i] : unknown,
                                            lines.left_px[i], lines.right_px[i]});
    }
}

std::size_t DisplacementSeries::lines() const {
    return frames_.empty() ? 0 : std::min(frames_.front().fields[0].size(), frames_.front().fields[1].size());
}

}  // namespace guardband::measure
