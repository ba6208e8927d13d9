#pragma once

#include <cstdint>
#include <optional>
#include <span>

namespace guardband::measure {

/// A place where the time stamps leave room for frames that are not there.
struct StampGap {
    std::int64_t frame = 0;   ///< the first frame after the gap
    std::int64_t frames = 1;  ///< how many are missing
};

/// A rate with its standard uncertainty, frames per second.
struct MeasuredRate {
    double hz = 0;
    double uncertainty_hz = 0;
};

/// What the time stamps show. Final once the measurement that finds it has finished; it stands first in the registry.
class StampEvidence {
public:
    virtual ~StampEvidence() = default;

    /// Frames per second of undisturbed running; nothing if the stamps don't show it.
    virtual std::optional<MeasuredRate> frame_rate() const = 0;

    /// In order of time. Bounded in number: of a clip with very many, the first ones.
    virtual std::span<const StampGap> stamp_gaps() const = 0;
};

}  // namespace guardband::measure
