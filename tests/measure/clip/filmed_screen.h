#pragma once

#include <array>
#include <complex>
#include <cstdint>
#include <optional>
#include <random>
#include <vector>

#include "measure/features.h"

namespace guardband::measure {

/// A scene before a camera, as features only: fast enough for thousands of clips. Rows of a large random texture, seen
/// through a wandering window with objects that move before it; brightness changes of light, screen and shots on top.
struct SceneSettings {
    int width = 192, height = 144;
    double frames_per_s = 25;
    int interlace = 0;  ///< 0 progressive, 1 top first, 2 bottom first
    double seconds = 60;

    double screen_hz = 0;  ///< 0: no screen
    double depth = 0.05;   ///< zero to peak of the fundamental in the light
    double exposure_s = 0.004;
    double decay_s = 0.0005;
    double readout_s = 0;
    double scan_share = 0.92;  ///< of a refresh in which the picture's height is scanned; 0: a lamp
    double phase = 0;

    double flame_depth = 0;  ///< RMS of what a flame does to the light, a share: near its own rate, but never for long
    double flame_hz = 6, flame_s = 0.3;  ///< that rate, and how long it keeps in step with itself

    double pan_px = 1;       ///< RMS speed of the window per field or frame
    double pan_frames = 40;  ///< correlation time of its velocity, frames
    int objects = 3;
    double noise_db = 46;  ///< 219 codes over the RMS noise
    std::vector<double> cuts_s, flashes_s, fades_s;
    std::uint32_t seed = 1;
};

class FilmedScene {
public:
    explicit FilmedScene(const SceneSettings& settings);
    /// Next frame, or nullptr at the end.
    const FrameFeatures* next();

private:
    struct Object {
        double x, y, vx, vy, w, h, world_x, world_y;
    };
    double world(int row, double from, double to) const;
    double window_sum(int row, double x, double width, double world_x, double world_y) const;
    void row(int frame_row, double time_s);
    double light(double start_s, double height) const;
    void move(double frames);

    SceneSettings s_;
    std::mt19937 random_;
    int world_width_ = 1024, world_height_ = 512;
    std::vector<float> prefix_;
    double x_ = 0, y_ = 0, vx_ = 0, vy_ = 0, gain_ = 1, steady_ = 0;
    std::complex<double> flame_;
    std::vector<Object> objects_;
    FrameFeatures features_;
    std::int64_t frame_ = 0;
};

}  // namespace guardband::measure
