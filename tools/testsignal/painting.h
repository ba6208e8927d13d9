#pragma once

#include "testsignal/gaussian_noise.h"
#include "testsignal/picture.h"

namespace guardband::testsignal {

/// A painted layer of a scene at full frame resolution, seen through the camera's vertical aperture and a slight
/// softness along the line. Colour difference at half the samples per row. For an object, luma and colour are already
/// multiplied by its coverage.
struct Layer {
    FloatPlane luma, cb, cr;
    FloatPlane cover,
        cover_half;  ///< 0 beside the object to 1 inside it, on the luma and on the colour grid; empty for a background
    int margin = 0;  ///< empty samples and lines on each side of an object
};

/// How softly a layer is seen.
struct Softness {
    double aperture_lines = 2;    ///< full width at half height of the vertical aperture, frame lines
    double chroma_cutoff = 0.19;  ///< half-amplitude point of colour difference, cycles per colour sample
};

/// A background that repeats in both directions: clouds and water at several scales, rocks with edges, a quay wall and
/// railings.
/// @param tint  how much colour follows the rocks
Layer paint_background(Random& random, int width, int height, const Softness& softness, double tint = 0);

/// Objects; width and height are those of the object, an empty margin comes on top.
Layer paint_doorway(int width, int height, const Softness& softness);  ///< true black inside a stone frame
Layer paint_board(Random& random, int width, int height,
                  const Softness& softness);                         ///< true white with rows of strokes like writing
Layer paint_tower(int width, int height, const Softness& softness);  ///< banded lighthouse
Layer paint_boat(int width, int height, const Softness& softness);   ///< hull, mast and sail

}  // namespace guardband::testsignal
