#pragma once

#include <complex>
#include <string>
#include <vector>

#include "measure/clip/luma_range.h"
#include "table/table.h"

namespace guardband::measure {

/// What one stripe of colour bars should hold.
struct BarStripe {
    std::string name;             ///< `yellow`
    double luma = 0;              ///< 8-bit code
    std::complex<double> colour;  ///< C_B and, imaginary, C_R: 8-bit codes from no colour
};

/// One kind of colour bars.
struct BarPattern {
    std::string name;  ///< as ITU-R BT.471 writes it: white / black / greatest / least level of the colours
    std::vector<BarStripe> stripes;  ///< from the left
};

/// The bars that the table has for a raster (of the clip's size, or the first one): each kind with its eight stripes,
/// and those whose white is no brighter than their colours also without black, as generators that split the picture
/// draw them. Levels by ITU-R BT.601's arithmetic: luma from the primaries' shares, colour difference so scaled that it
/// spans the range that the table gives.
std::vector<BarPattern> bar_patterns(const media::PictureFormat& picture, const table::Table& table);

}  // namespace guardband::measure
