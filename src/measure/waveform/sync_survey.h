#pragma once

#include <optional>
#include <span>
#include <string>

#include "table/table.h"

namespace guardband::measure {

/// What the sync of a stretch of samples looks like, before anything is known of the TV system.
struct SyncShape {
    bool inverted = false;      ///< sync is above the picture
    double line_samples = 0;    ///< from one line sync to the next
    double width_samples = 0;   ///< of line sync at half its depth
    float depth = 0;            ///< of sync, in the samples' own unit
    float rise = 0;             ///< from the lowest filtered value of a line to half of the depth
    double broad_per_line = 0;  ///< broad pulses (field sync) to one line pulse
    double regular_share = 0;   ///< of the time that is covered by lines of the same length

    bool has_field_sync() const { return broad_per_line > 0; }
};

/// Looks for line sync of any polarity, level and offset.
///
/// Method: both polarities are low-passed and sliced half way between the level that 3.5 % of the time lies below, the
/// tips, and the one that 15 % lies below, which is blanking in every system of the table (sync takes 5 to 9 % of the
/// time, blanking and sync together 20 to 30). Line sync is the pulse that comes again most evenly; of two polarities
/// the one whose pulses also show field sync and have the width of sync wins. Pulses with slanting sides, as a tone's,
/// are none.
/// @param samples  a few fields of signal   @param rate_hz  of the samples
/// @returns nothing if less than half of the time is covered by even lines
std::optional<SyncShape> find_sync(std::span<const float> samples, double rate_hz);

/// What a signal without line sync is, as far as it can be told: silence, noise, a slow
/// signal such as sound.
std::string describe_without_sync(std::span<const float> samples);

}  // namespace guardband::measure
