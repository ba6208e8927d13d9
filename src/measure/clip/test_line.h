#pragma once

#include <optional>
#include <span>
#include <vector>

namespace guardband::measure {

/// One burst of a multiburst.
struct Burst {
    double cycles_per_sample = 0;
    double amplitude = 0;  ///< in the line's unit
};

/// The bursts of a line that holds four or more sines one after another, each faster than the one before; nothing if it
/// is no such line.
///
/// Method: sines of 60 frequencies are fitted to pieces of 48 samples, every 8th; pieces that are a sine and nothing
/// else and follow one another with one frequency are a burst, whose amplitude is fitted anew over all of it but its
/// ends.
std::optional<std::vector<Burst>> find_multiburst(std::span<const float> line);

/// A line that rises evenly.
struct Ramp {
    double slope = 0;         ///< per sample
    double nonlinearity = 0;  ///< largest departure from a straight line, as a share of the rise
};

/// The ramp over the middle three fifths of a line; nothing if that is none, or bent by more than a tenth.
std::optional<Ramp> find_ramp(std::span<const float> line);

/// A narrow pulse and a wide bar on black.
struct PulseAndBar {
    double ratio = 0;  ///< height of the pulse over that of the bar
    double tilt = 0;   ///< of the bar's top from its first to its last quarter, as a share of its height
    double width = 0;  ///< of the pulse at half its height, samples
};

/// @param shortest_bar, widest_pulse  samples
std::optional<PulseAndBar> find_pulse_and_bar(std::span<const float> line, int shortest_bar, double widest_pulse);

}  // namespace guardband::measure
