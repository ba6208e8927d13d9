#pragma once

#include <cstdint>
#include <vector>

#include "testsignal/luma_filter.h"
#include "testsignal/painting.h"
#include "testsignal/recipe.h"
#include "testsignal/shifted_rows.h"

namespace guardband::testsignal {

/// How far something has moved, in samples and frame lines.
struct Displacement {
    double x = 0, y = 0;
};

/// A moving scene as a continuous function of time, through a camera of limited bandwidth. Light of the scene is
/// steady; what flickers is `FilmedLight`'s business. Not for use by two threads at once.
class Scene {
public:
    /// @param aperture_lines   of the camera, frame lines
    /// @param pictures_per_s   what `motion_px` counts by
    Scene(const PictureSettings& settings, const Raster& raster, double aperture_lines, double pictures_per_s,
          std::uint64_t seed);

    /// The picture at a moment: all rows, or those of one field.
    /// @param lower_lines  by how many frame lines all of it lies lower than it should
    void render(double time_s, Rows rows, Picture& out, double lower_lines = 0);

    /// Where the background stands against where it stood at time 0. It moves to the right and downwards for positive
    /// values.
    Displacement background_displacement(double time_s) const;

private:
    /// An object goes to and fro between two corners of its range at constant speed in each direction.
    struct Object {
        Layer layer;
        Displacement low, high, start;
        double speed_factor_x, speed_factor_y;  ///< of the background's speed
        Displacement position;                  ///< at the moment being rendered
        ShiftedRows luma, cb, cr, cover, cover_half;
    };

    void add_object(Layer layer, Displacement low, Displacement high, double speed_factor_x, double speed_factor_y);
    void paint_objects(Random& random, const Softness& softness);
    double path_px(double time_s) const;
    void place(double time_s, double lower_lines);
    void cover_row(Object& object, int y, float* luma, float* cb, float* cr);

    PictureSettings settings_;
    int width_, height_;
    double pictures_per_s_;
    Displacement chroma_offset_;  ///< of colour from luma
    Layer background_;
    ShiftedRows back_luma_, back_cb_, back_cr_;
    std::vector<Object> objects_;
    LowPass low_pass_;
    std::vector<float> ink_, cover_;
};

}  // namespace guardband::testsignal
