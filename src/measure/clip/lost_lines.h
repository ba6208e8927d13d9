#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "measure/clip/displacement_track.h"
#include "measure/clip_measurement.h"
#include "measure/event_log.h"
#include "measure/frame_clock.h"

namespace guardband::measure {

/// Events `lines lost`: stretches of a clip in which lines on end could not be placed, although blanking is there to
/// place lines by and the picture beside it is not dark: sync that was torn, or lines displaced beyond what is
/// captured.
///
/// A frame counts from `fewest_lines` on in either field; frames up to five apart are one stretch. What the picture is
/// like at a line's ends: the mean of 32 samples beyond the first and the last 16. Where most frames have such lines
/// there is no blanking to speak of, and nothing is told.
class LostLines {
public:
    static constexpr std::int64_t fewest_lines = 12;  ///< of a field, on end

    explicit LostLines(const ClipContext& context);

    void see(const media::Frame& frame, const FrameFeatures& features, const DisplacementTrack& track);
    void finish(std::vector<quantity::Event>& events) const;

private:
    struct Stretch {
        std::int64_t frame = 0, last_frame = 0, lines = 0;
        std::size_t first_line = 0, last_line = 0;
        double time_s = 0;
    };

    bool is_dark(const FrameFeatures& features, int row) const;
    void note(const media::Frame& frame, double time_s, std::size_t first, std::size_t end);

    FrameClock clock_;
    double dark_code_;
    std::vector<Stretch> stretches_;
    std::int64_t more_ = 0;                           ///< of fields, beyond those
    std::int64_t frames_ = 0, frames_with_lost_ = 0;  ///< with blanking to place lines by
};

}  // namespace guardband::measure
