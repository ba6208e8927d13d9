#pragma once

#include <span>

#include "measure/clip/loss_search.h"

namespace guardband::measure {

/// What a line's noise does beyond the pieces in which it is that of the line above.
enum class Beyond {
    OwnNoise,    ///< it is another, as beyond a piece that was filled from there
    SameNoise,   ///< it goes on to be the same wherever the picture lets that be seen: the source gave both lines one
    NothingLeft  ///< too little of the line is left to tell
};

/// Method: a line's difference from the line above is looked at from sample to sample. Where both have the same noise
/// that is the picture's alone, which is level in many places; else it is seldom small. How seldom, the differences of
/// the lines above and below say, in the same places. Of lines that had a piece filled 1 % have 0.07 of the samples
/// more in small steps than theirs; of lines that were given the noise of the line above (by a signal generator that
/// draws each line's from one table) 1 % less than 0.19.
/// @param y       row of the frame
/// @param pieces  of the line, in which it is as the line above; rising
/// @param noise   of one sample, 8-bit codes RMS
Beyond noise_beyond(const CodeReader& reader, int y, std::span<const Loss> pieces, float noise);

}  // namespace guardband::measure
