#pragma once

#include <memory>
#include <string>
#include <vector>

#include "stage/stage.h"

namespace guardband::bench {

/// A still that a camera looks at.
struct Still {
    testsignal::FloatPlane luma, cb, cr;
};

/// Reads a picture by FFmpeg. @param input  its arguments, `-i` and all
std::shared_ptr<const Still> still_from(const std::string& input, int width);

/// The stills of a folder (JPEG and PNG of 50 kB and more, in the order of names); fractals if it is empty.
std::vector<std::shared_ptr<const Still>> stills_of(const std::string& folder);

/// How a camera moves over stills: a cut to the next one every `cut_s`.
struct Move {
    double right_px_s = 0, down_px_s = 0;  ///< of the camera
    double zoom = 1, zoom_per_s = 1;       ///< pixels of the picture per pixel of the still; grows by that factor
    double turn_per_s = 0;                 ///< radians
    double shake_px = 0, shake_hz = 3;     ///< of a hand
    double cut_s = 1e9;
};

Act look_at(std::vector<std::shared_ptr<const Still>> stills, const Move& move);

/// Pictures that FFmpeg makes or decodes, one for each shot. @param held  shots that show the same picture: 2 is film
/// @param arguments  up to the output, e.g. `-f lavfi -i testsrc2=…`; has to give the stage's size and rate
Act piped(const std::string& arguments, int width, int height, int held = 1);

/// A level field.
Act plain(float luma);

}  // namespace guardband::bench
