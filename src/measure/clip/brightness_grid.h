#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "measure/features.h"

namespace guardband::measure {

/// The light of a frame in coarse cells, field by field: what flicker is measured on. Each field is cut into 16 bands
/// of rows and 4 columns. The light of a cell is (mean luma code − black)^(1 / 0.45), the camera's gamma undone: where
/// light is multiplied by a factor, whatever the picture in the cell, the result is multiplied by exactly that factor
/// (by all of the picture if the camera's gamma has no linear toe). 0.45 is the nominal gamma of TV cameras (ITU-R
/// BT.601 and BT.709 systems: overall exponent of the camera's transfer curve).
class BrightnessGrid {
public:
    static constexpr int parities = 2, bands = 16, columns = 4;
    static constexpr std::size_t cells = static_cast<std::size_t>(parities) * bands * columns;

    /// @param segments, rows  size of `FrameFeatures::segment_sums`: segments per row, rows of the frame
    /// @param black, range    code of black, and from there to white
    BrightnessGrid(int segments, int rows, double black, double range);

    /// A picture too small to have every cell: no flicker can be measured.
    bool is_too_small() const { return segments_ < columns || rows_ < parities * bands; }

    /// @param light  `cells` values, by parity, band, column; in units of the light of white; 0 where the mean lies at
    /// or below black
    void read(const FrameFeatures& features, std::span<float> light) const;

    /// Height of a band's middle below the top of the picture, in picture heights.
    double height_of(int parity, int band) const;

private:
    int segments_, rows_;
    double black_, range_;
    std::array<int, columns + 1> column_starts_{};
};

}  // namespace guardband::measure
