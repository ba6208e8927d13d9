#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "media/sound.h"

namespace guardband::measure {

/// What a signal's pulses look like.
enum class PulseShape {
    TwoLevels,  ///< square waves, logic, pulses of one sign, sines: an edge is where the middle is crossed
    Bumps,  ///< short swings to either side of a level in between, as a control head makes of a recorded square wave
};

/// Levels of half a second of a signal.
struct BlockLevels {
    float low = 0, middle = 0, high = 0;  ///< middle: where it mostly is, if bumps
    float swing() const { return high - low; }
};

/// A first look at a recording of pulses, from which thresholds follow.
struct LevelSketch {
    int channel = 0;  ///< the one that swings most
    PulseShape shape = PulseShape::TwoLevels;
    std::int64_t block_samples = 1;
    std::vector<BlockLevels> blocks;  ///< those without pulses have the levels of the nearest with some
    double crude_rate_hz = 0;         ///< of rising edges, to a few per cent; 0 if there are none
    double seconds = 0;
    double swing = 0;  ///< median over the blocks
};

/// Reads a recording through. Memory: 12 bytes for each half second and channel, and half a second of samples.
/// @param channel  the one to look at; the one of the first eight that swings most if absent
/// @throws InputError as `SoundReader::next`; or for a rate below 100 Hz or above 50 MHz
LevelSketch sketch_levels(media::SoundReader& sound, std::optional<int> channel);

}  // namespace guardband::measure
