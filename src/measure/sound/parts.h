#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "measure/sound/speed_spectrum.h"
#include "quantity/figure.h"

namespace guardband::measure {

/// A part of a transport that turns, and how often.
struct Part {
    std::string name;
    double rate_hz = 0;         ///< turns a second
    double uncertainty_hz = 0;  ///< standard
    bool follows_tape = false;  ///< its rate goes with the speed of the tape
};

/// Reads a parts file (TOML): optional `tape_speed = "33.35mm/s"`, then a `[[part]]` for each, with a `name` and one of
/// - `diameter`, of what runs at the tape's speed: capstan, pinch roller, guide; a reel's is that of its pack at the
///   point of the tape that is played;
/// - `rate`, turns a second or a minute: motors, idlers;
/// - `length`, of a belt, with `on`, the name of a part above it, and `on_diameter`, of that part's pulley.
/// Each is a quantity, with `±` where its uncertainty is known; else half of its last digit counts.
/// @param tape_speed_mm_s  goes before the file's   @throws InputError, `file:line: key`
std::vector<Part> read_parts(const std::string& path, std::optional<double> tape_speed_mm_s);

/// As above for text at hand. @param file  how errors name it
std::vector<Part> parse_parts(const std::string& file, std::string_view text, std::optional<double> tape_speed_mm_s);

/// Names the part behind each line: one whose rate, or up to its eighth harmonic, lies within the uncertainty of both,
/// and 0.5 % for slip and creep; the lowest harmonic and the nearest rate go first. Rates that follow the tape are
/// tried as given and at the measured speed, since a wrong speed may be the player's or the recorder's.
/// @param speed_ratio  played over recorded; 1 if not known
std::vector<quantity::Component> attribute(std::span<const SpeedLine> lines, std::span<const Part> parts,
                                           double speed_ratio);

}  // namespace guardband::measure
