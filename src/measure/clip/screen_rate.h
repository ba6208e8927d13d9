#pragma once

#include <span>
#include <vector>

#include "table/table.h"

namespace guardband::measure {

/// A light that screens or lamps give, as the table has it.
struct ScreenLight {
    double rate_hz = 0;
    double tolerance_hz = 0;    ///< how far one may be off, one standard deviation
    bool is_lamp = false;       ///< flickers everywhere at once, where a screen is scanned from top to bottom
    bool is_broadcast = false;  ///< runs at the field rate of a TV system
};

/// The table's lights. A rate without a tolerance of its own gets 0.02 %: crystals of old cameras and monitors
/// together.
std::vector<ScreenLight> screen_lights(const table::Table& table);

/// Flicker as a clip shows it.
struct SeenFlicker {
    double frequency_hz = 0, uncertainty_hz = 0;
    double bands = 0, bands_uncertainty = 0;  ///< per picture height; below 0 they roll downwards
    double resolution_hz = 0;                 ///< two frequencies closer than this can't be told apart in the clip
    double camera_hz = 0;                     ///< pictures per second: fields if interlaced
    double camera_uncertainty_hz = 0;
};

struct ScreenChoice {
    double rate_hz = 0;
    double probability = 0;  ///< among the table's lights
};

/// The lights that explain flicker, the most probable first; those less probable than 1/50 of it are ruled out. Empty
/// if none explains it.
///
/// Method. The rate must beat with the camera at the frequency seen (`calc::beat_hz`) within what both are known to.
/// How the bands lie and roll tells lights below a multiple of the camera's rate from those above: light of height y of
/// a screen comes y · share / rate late (share: how much of the screen the picture's height shows, 0.3 … 1), and row y
/// may be read late by up to the time of a picture. A camera that takes all rows at once is taken as more probable
/// (0.6) than one that reads them one after the other over an unknown time; rates of TV systems as half as probable
/// again as others. Can't tell lights apart that beat alike and roll alike: 60 and 85 Hz before 25 pictures/s; 50 Hz
/// before 30 pictures/s read out slowly from 100 Hz taken at once. They are all given.
std::vector<ScreenChoice> explain_flicker(const SeenFlicker& seen, std::span<const ScreenLight> lights);

}  // namespace guardband::measure
