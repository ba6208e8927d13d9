#pragma once

#include <cstdint>
#include <span>

namespace guardband::measure {

/// A place where the pictures jump further than they should, as if frames were missing.
struct PictureGap {
    std::int64_t frame = 0;   ///< the first frame after the gap
    std::int64_t frames = 1;  ///< how many are missing
    double time_s = 0;        ///< of that frame
};

/// Frames that the pictures show to be missing. Complete once the last frame has been seen, before any `finish`.
class PictureGaps {
public:
    virtual ~PictureGaps() = default;

    /// In order of time.
    virtual std::span<const PictureGap> gaps() const = 0;
};

}  // namespace guardband::measure
