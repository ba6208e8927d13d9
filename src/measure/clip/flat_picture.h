#pragma once

#include <cstdint>
#include <vector>

namespace guardband::measure {

/// Codes below which a twentieth of a frame's samples lies and above which a twentieth does: at the edges may stand
/// blanking, in a corner a counter.
struct LumaSpan {
    double low = 0, high = 0;

    /// Whether the picture is flat: all that counts lies within 3 codes of 8 bits. Noise at 47 dB S/N spans as much.
    /// @param code  codes of the clip per code of 8 bits
    bool is_flat(double code) const { return high - low <= 3 * code; }
};

/// @param histogram  how many samples have each code
LumaSpan luma_span(const std::vector<std::uint32_t>& histogram);

}  // namespace guardband::measure
